"""Numbers of sessions: each is given once, so that what names a session never comes to mean another one."""

from __future__ import annotations

import sqlite3


def next_number(connection: sqlite3.Connection) -> int:
    """Return the number of a session that begins now; the caller holds the transaction."""
    found = connection.execute(
        "SELECT max(last_session, coalesce((SELECT max(id) FROM sessions), 0)) + 1 FROM numbering"
    ).fetchone()
    return int(found[0])


def remember(connection: sqlite3.Connection, number: int) -> None:
    """Note a number that must not be given again; the caller holds the transaction."""
    connection.execute("UPDATE numbering SET last_session = max(last_session, ?)", (number,))
