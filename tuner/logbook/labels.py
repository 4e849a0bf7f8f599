"""What a keeper adds to a session: notes and tags."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from datetime import datetime

from tuner.errors import ConfigError
from tuner.logbook.rows import utc_text

LONGEST_TAG = 40
LONGEST_NOTE = 10_000


def tag_of(text: str) -> str:
    """Return a tag as it is kept: without space around it.

    Raises
    ------
    ConfigError
        When it is empty, long, or holds what cannot be printed.

    >>> tag_of(" after the new pump ")
    'after the new pump'
    """
    tag = text.strip()
    if not 0 < len(tag) <= LONGEST_TAG or not tag.isprintable():
        raise ConfigError(f"tag={text[:60]!r} must be 1 to {LONGEST_TAG} printable characters: a word or two")
    return tag


def add_tags(connection: sqlite3.Connection, session: int, tags: Iterable[str]) -> tuple[str, ...]:
    """Put tags on a session and return those that it did not have."""
    new = []
    for tag in dict.fromkeys(tag_of(text) for text in tags):
        cursor = connection.execute("INSERT OR IGNORE INTO tags (session_id, tag) VALUES (?, ?)", (session, tag))
        if cursor.rowcount:
            new.append(tag)
    return tuple(new)


def remove_tags(connection: sqlite3.Connection, session: int, tags: Iterable[str]) -> tuple[str, ...]:
    """Take tags off a session and return those that it had."""
    gone = []
    for tag in dict.fromkeys(text.strip() for text in tags):
        if connection.execute("DELETE FROM tags WHERE session_id = ? AND tag = ?", (session, tag)).rowcount:
            gone.append(tag)
    return tuple(gone)


def all_tags(connection: sqlite3.Connection) -> tuple[tuple[str, int], ...]:
    """Return every tag with the number of sessions that bear it, by name."""
    return tuple(connection.execute("SELECT tag, count(*) FROM tags GROUP BY tag ORDER BY tag").fetchall())


def add_note(connection: sqlite3.Connection, session: int, made: datetime, text: str) -> None:
    """Add words to a session.

    Raises
    ------
    ConfigError
        When there are no words, or very many.
    """
    if not text.strip() or len(text) > LONGEST_NOTE:
        raise ConfigError(f"note of {len(text)} characters must have 1 to {LONGEST_NOTE}: say it in a sentence or two")
    connection.execute(
        "INSERT INTO notes (session_id, made_utc, text) VALUES (?, ?, ?)", (session, utc_text(made), text)
    )
