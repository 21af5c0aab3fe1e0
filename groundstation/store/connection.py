"""Connections to the database: one that writes, any number that only read."""

import errno
import fcntl
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from groundstation.errors import StoreError

BUSY_MS = 5_000
"""How long a connection waits for a lock; only readers that open after a crash ever do."""


def connect_writing(path: Path) -> sqlite3.Connection:
    """Open ``path`` for writing, made durable: what was committed is on disk.

    Transactions are begun and ended by hand. Raises ``StoreError`` naming the file.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        connection = sqlite3.connect(path, isolation_level=None)
    except (OSError, sqlite3.Error) as error:
        raise StoreError(f"{path} can't be opened for writing: {error}") from error
    try:
        _set_pragmas(connection)
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
    except sqlite3.Error as error:
        connection.close()
        raise StoreError(_unusable(path, error)) from error
    return connection


def connect_reading(path: Path) -> sqlite3.Connection:
    """Open ``path`` so that nothing can be written through it.

    It is opened read-only and not only set to ``query_only``: a connection that may write also
    checkpoints when it closes, and only the station's own writer should ever do that. Usable
    from any one thread at a time. Raises ``StoreError`` naming the file.
    """
    if not path.is_file():
        raise StoreError(f"there is no database {path}; start the station once to make it")
    try:
        return _reading(path, "mode=ro")
    except sqlite3.OperationalError as error:
        if path.with_name(path.name + "-wal").exists():
            raise StoreError(_unusable(path, error)) from error
    except sqlite3.Error as error:
        raise StoreError(_unusable(path, error)) from error
    # On a disk that is read-only the files beside it can't be made; without a log to be read
    # there, it can be done without them.
    try:
        return _reading(path, "mode=ro&immutable=1")
    except sqlite3.Error as error:
        raise StoreError(_unusable(path, error)) from error


def _reading(path: Path, how: str) -> sqlite3.Connection:
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?{how}",
        uri=True,
        isolation_level=None,
        check_same_thread=False,
    )
    try:
        _set_pragmas(connection)
        connection.execute("PRAGMA query_only = ON")
        connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except sqlite3.Error:
        connection.close()
        raise
    return connection


@contextmanager
def only_writer(path: Path, *, or_none: bool = False) -> Iterator[None]:
    """Hold the right to write ``path``; the system gives it up even if the process is killed.

    With ``or_none`` a disk on which nothing can be written is gone on with all the same.

    SQLite before 3.51.3 can damage a database when two connections write and checkpoint at the
    same instant (its "WAL-reset" defect), so a second station is refused at the door.
    """
    lock_path = path.with_name(path.name + "-lock")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        lock: IO[bytes] = lock_path.open("ab")
    except OSError as error:
        if or_none and error.errno in (errno.EROFS, errno.ENOSPC, errno.EIO):
            yield
            return
        raise StoreError(f"{lock_path} can't be opened for writing: {error}") from error
    with lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            raise StoreError(
                f"{path} is in use by another running station; stop that one, "
                "or give this one another database"
            ) from error
        yield


def _set_pragmas(connection: sqlite3.Connection) -> None:
    connection.execute(f"PRAGMA busy_timeout = {BUSY_MS}")
    connection.execute("PRAGMA foreign_keys = ON")


def _unusable(path: Path, error: sqlite3.Error) -> str:
    return (
        f"{path} can't be used as the station's database ({error}); "
        "move it away or name another file"
    )
