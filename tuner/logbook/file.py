"""The logbook's file: where it lies, how it is opened, and how it says what is wrong with it.

The file belongs to its owner alone (mode 0600) from its first moment. A file that this program cannot
understand is left as it was found.
"""

from __future__ import annotations

import os
import sqlite3
import stat
import struct
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tuner.errors import HushweirError, LogbookError
from tuner.logbook.migrations import APPLICATION_ID, MIGRATIONS

FILE_NAME = "logbook.sqlite"
_BUSY = ("SQLITE_BUSY", "SQLITE_LOCKED")
_ELSEWHERE = "name another place with --logbook"
_DAMAGED = f"is damaged or is not a logbook; it was left as it is: keep a copy and {_ELSEWHERE}"


def default_path() -> Path:
    """Return where the logbook lies when nobody says otherwise: the user's data folder."""
    import platformdirs

    return platformdirs.user_data_path("hushweir", appauthor=False) / FILE_NAME


def open_for_writing(path: Path, busy_s: float) -> sqlite3.Connection:
    """Open the logbook, making it (and its folder) when it is not there, and bring it to the present form.

    Another program's lock is waited for during ``busy_s``. The connection may be used by one thread at a time.

    Raises
    ------
    LogbookError
        When the file cannot be made, is locked, read-only, damaged, newer, or not a logbook.
    """
    _make(path)
    _refuse_read_only(path)
    with explained(path):
        connection = sqlite3.connect(path, timeout=busy_s, isolation_level=None, check_same_thread=False)
    try:
        with explained(path):
            version = _version(connection, path)
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
            connection.execute("PRAGMA secure_delete = ON")
            if version < len(MIGRATIONS):
                _migrate(connection, path)
    except BaseException:
        connection.close()
        raise
    return connection


def open_for_reading(path: Path, busy_s: float, *, as_it_is: bool = False) -> sqlite3.Connection:
    """Open a logbook that is there, to look at it only; one of an earlier form is brought to the present form first.

    With ``as_it_is`` it is not: a copy in memory is brought to the present form instead.

    Raises
    ------
    LogbookError
        As ``open_for_writing``, and when there is none.
    """
    if not path.is_file():
        raise LogbookError(
            f"logbook {path} does not exist: it begins with the first 'hushweir listen' or 'hushweir tune'"
        )
    # Beside a logbook in a read-only folder SQLite cannot lay the files that it shares with a writer, and no
    # writer can be there either.
    shared = path.with_name(f"{path.name}-wal").exists()
    mode = "mode=ro" if shared or _writable(path.parent) else "immutable=1"
    with explained(path):
        connection = sqlite3.connect(
            f"{path.absolute().as_uri()}?{mode}", uri=True, timeout=busy_s, isolation_level=None
        )
    try:
        with explained(path):
            version = _version(connection, path)
            if version == 0:
                raise LogbookError(f"logbook {path} is empty: nothing has been written to it yet")
            if version < len(MIGRATIONS):
                return _upgraded_copy(connection, path) if as_it_is else _reopened(connection, path, busy_s)
    except BaseException:
        connection.close()
        raise
    return connection


def _reopened(connection: sqlite3.Connection, path: Path, busy_s: float) -> sqlite3.Connection:
    connection.close()
    return open_for_writing(path, busy_s)


def _upgraded_copy(connection: sqlite3.Connection, path: Path) -> sqlite3.Connection:
    copy = sqlite3.connect(":memory:", isolation_level=None)
    connection.backup(copy)
    connection.close()
    _migrate(copy, path)
    return copy


def _make(path: Path) -> None:
    """Make an empty file for the owner alone, unless there is one; SQLite's side files take over its mode."""
    if path.is_dir():
        raise LogbookError(f"logbook {path} is a folder: name a file in it")
    if path.exists():
        return
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        if not _writable(path.parent):
            raise PermissionError(13, "the folder is read-only")
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
    except FileExistsError:
        if not path.exists():  # a file stands where a folder should be
            raise LogbookError(f"logbook {path} cannot be made: {path.parent} is no folder; {_ELSEWHERE}") from None
    except OSError as error:
        raise LogbookError(f"logbook {path} cannot be made ({error.strerror}): {_ELSEWHERE}") from None


def _writable(path: Path) -> bool:
    """Tell whether one may write; a path that is marked read-only for everybody is so for the superuser too."""
    return bool(path.stat().st_mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH)) and os.access(path, os.W_OK)


def _refuse_read_only(path: Path) -> None:
    # SQLite needs the folder as well, for the files beside the logbook.
    for what in (path, path.parent):
        if not _writable(what):
            shown = "it" if what == path else "its folder"
            raise LogbookError(
                f"logbook {path} cannot be written, because {shown} is read-only: allow writing, or {_ELSEWHERE}"
            )


def _version(connection: sqlite3.Connection, path: Path) -> int:
    """Return how many migrations the file has seen; raise for a file that is no logbook of ours."""
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    application = int(connection.execute("PRAGMA application_id").fetchone()[0])
    tables = int(connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0])
    if application != APPLICATION_ID and (tables or version or application):
        raise LogbookError(f"logbook {path} is the database of another program: {_ELSEWHERE}")
    if version > len(MIGRATIONS):
        raise LogbookError(
            f"logbook {path} was written by a newer hushweir (form {version}; this one knows {len(MIGRATIONS)}):"
            f" update hushweir, or {_ELSEWHERE}"
        )
    return version


def _migrate(connection: sqlite3.Connection, path: Path) -> None:
    """Take the missing steps in one transaction: all of them, or none."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        # Read again under the lock: another process may have been quicker.
        version = _version(connection, path)
        for migration in MIGRATIONS[version:]:
            for statement in migration.sql.split(";"):
                if statement.strip():
                    connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn what SQLite says, and what cannot be read in the file, into one line that names it and what to do."""
    try:
        yield
    except HushweirError:
        raise
    except sqlite3.Error as error:
        raise LogbookError(f"logbook {path} {_explanation(error)}") from error
    except (ValueError, TypeError, KeyError, OverflowError, RecursionError, struct.error) as error:
        raise LogbookError(f"logbook {path} {_DAMAGED}") from error


@contextmanager
def transaction(connection: sqlite3.Connection, path: Path) -> Iterator[None]:
    """Write all of what happens inside, or none of it."""
    with explained(path):
        connection.execute("BEGIN IMMEDIATE")
        try:
            yield
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise


def _explanation(error: sqlite3.Error) -> str:
    code = getattr(error, "sqlite_errorname", "") or ""
    if code.startswith(_BUSY):
        return f"is in use by another program: close that program, or {_ELSEWHERE}"
    if code.startswith(("SQLITE_READONLY", "SQLITE_PERM", "SQLITE_CANTOPEN", "SQLITE_AUTH")):
        return f"cannot be opened or written: check the rights of the file and its folder, or {_ELSEWHERE}"
    if code.startswith("SQLITE_FULL"):
        return f"cannot grow, because the disk is full: make room, or {_ELSEWHERE}"
    if code.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB")):
        return _DAMAGED
    if code.startswith("SQLITE_IOERR"):
        return f"cannot be read or written ({error}): check the disk, or {_ELSEWHERE}"
    return f"does not answer as a logbook should ({error}): keep a copy and {_ELSEWHERE}"
