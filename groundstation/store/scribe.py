"""The hand that writes: the one connection that does, and a lifeboat for when its disk fails.

Used by one thread only.
"""

import logging
import sqlite3
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Protocol

from groundstation.errors import StoreError
from groundstation.store.connection import connect_reading, connect_writing
from groundstation.store.lifeboat import Lifeboat
from groundstation.store.migrate import migrate, refuse_newer

log = logging.getLogger(__name__)

RETRY_S: Final = 5.0  # own choice: a disk that comes back is not waited for


NUMBERED: Final = (
    ("frame", "id"),
    ("report", "id"),
    ("landing", "id"),
    ("sighting", "seq"),
    ("sighting", "gone_seq"),
)
"""Where the numbers of events stand, which are given out once."""
KNOWN: Final = "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = ?"


class Task(Protocol):
    """One work on the database; what came of it is noted on it."""

    @property
    def work(self) -> Callable[[sqlite3.Connection], Any]: ...

    @property
    def size(self) -> int:
        """About how many bytes it holds in memory."""

    result: Any
    error: StoreError | None


@dataclass(frozen=True, slots=True)
class Standing:
    """How it stands with the disk: ``trouble`` is "" while all is on it."""

    trouble: str = ""
    waiting: int = 0


class Scribe:
    """Writes to ``path``. With ``lifeboat`` it goes on in memory while the disk takes nothing."""

    def __init__(self, path: Path, *, lifeboat: bool) -> None:
        self._path = path
        self._may = lifeboat
        self._disk: sqlite3.Connection | None = None
        self._boat: Lifeboat | None = None
        self._trouble = ""
        self._next_try_s = 0.0

    @property
    def standing(self) -> Standing:
        return Standing(self._trouble, 0 if self._boat is None else len(self._boat.log))

    @property
    def adrift(self) -> bool:
        return self._boat is not None

    def open(self) -> int:
        """Make ready and return the first free id. Raises ``StoreError``."""
        try:
            self._disk = self._connected()
            return 1 + _last_seq(self._disk)
        except (StoreError, sqlite3.Error) as error:
            self._hang_up()
            reason = error if isinstance(error, StoreError) else _unreadable(self._path, error)
            cause = error if isinstance(error, sqlite3.Error) else error.__cause__
            if not self._may or not isinstance(cause, sqlite3.OperationalError | OSError):
                raise reason from error
            return self._opened_adrift(cause)

    def write(self, group: Sequence[Task]) -> None:
        """Do all of ``group``, in one transaction where that can be; nothing is raised."""
        if self._boat is not None:
            self.try_ashore()
        if self._boat is None:
            assert self._disk is not None
            trouble = _transact(self._disk, group, self._path)
            if trouble is None:
                return
            if not (self._may and isinstance(trouble, sqlite3.OperationalError)):
                if len(group) > 1:
                    # One that can't be written must not take the others with it.
                    for task in group:
                        _transact(self._disk, [task], self._path)
                return
            self._leave(trouble)
        self._write_adrift(group)

    def try_ashore(self) -> None:
        """Bring what is in memory to the disk, if it is time to try."""
        boat, now = self._boat, time.monotonic()
        if boat is None or now < self._next_try_s:
            return
        self._next_try_s = now + RETRY_S
        try:
            # A connection that met a failing disk is not to be trusted.
            self._hang_up()
            self._disk = self._connected()
            boat.empty_into(self._disk)
        except (StoreError, sqlite3.Error, OSError) as error:
            self._trouble = _plain(error)
            return
        log.warning("%s can be written again; %d works were caught up", self._path, len(boat.log))
        boat.close()
        self._boat, self._trouble = None, ""

    def close(self) -> None:
        if self._boat is not None:
            self._next_try_s = 0.0
            self.try_ashore()
        if self._boat is not None:
            log.error("%d works were never written to %s", len(self._boat.log), self._path)
        self._hang_up()

    def _connected(self) -> sqlite3.Connection:
        connection = connect_writing(self._path)
        try:
            migrate(connection, self._path)
        except BaseException:
            connection.close()
            raise
        return connection

    def _leave(self, error: sqlite3.Error | OSError) -> None:
        self._trouble = _plain(error)
        self._next_try_s = time.monotonic() + RETRY_S
        log.error("%s can't be written (%s); going on in memory", self._path, self._trouble)
        try:
            self._boat = Lifeboat(self._disk)
        except sqlite3.Error:
            self._boat = Lifeboat(None)

    def _opened_adrift(self, error: sqlite3.Error | OSError) -> int:
        first = 1
        with suppress(StoreError, sqlite3.Error):
            self._disk = connect_reading(self._path)
            refuse_newer(self._disk, self._path)
            first = 1 + _last_seq(self._disk)
        self._leave(error)
        return first

    def _write_adrift(self, group: Sequence[Task]) -> None:
        boat = self._boat
        assert boat is not None
        for task in group:
            if boat.full:
                text = f"{self._path} can't be written ({self._trouble}), and the memory is full"
                task.error = StoreError(text)
                continue
            if _transact(boat.connection, [task], self._path) is None:
                boat.keep(task.work, task.size)

    def _hang_up(self) -> None:
        if self._disk is not None:
            # What is left of the log is taken up at the next start.
            with suppress(sqlite3.Error):
                self._disk.close()
            self._disk = None


def _transact(
    connection: sqlite3.Connection, group: Sequence[Task], path: Path
) -> Exception | None:
    """Do all of ``group`` or nothing; where it fails, note why on each and return it."""
    try:
        connection.execute("BEGIN IMMEDIATE")
        for task in group:
            task.result = task.work(connection)
        connection.execute("COMMIT")
    except Exception as error:
        with suppress(sqlite3.Error):
            connection.execute("ROLLBACK")
        of_disk = isinstance(error, sqlite3.OperationalError)
        hint = "; make room on its disk, or replace it, and start again" if of_disk else ""
        for task in group:
            task.result = None
            task.error = StoreError(f"writing to {path} failed: {error}{hint}")
            task.error.__cause__ = error
        return error
    for task in group:
        task.error = None
    return None


def _last_seq(connection: sqlite3.Connection) -> int:
    greatest = (
        connection.execute(f"SELECT coalesce(max({column}), 0) FROM {table}").fetchone()[0]
        for table, column in NUMBERED
        if connection.execute(KNOWN, (table,)).fetchone()
    )
    return int(max(greatest))


def _unreadable(path: Path, error: sqlite3.Error) -> StoreError:
    return StoreError(f"{path} can't be read: {error}")


def _plain(error: Exception) -> str:
    cause = error.__cause__ if isinstance(error, StoreError) and error.__cause__ else error
    return str(cause)
