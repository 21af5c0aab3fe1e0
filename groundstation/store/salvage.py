"""A database that is damaged: set aside, and what can be read of it taken over into a new one."""

import logging
import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from groundstation.errors import StoreError
from groundstation.store.connection import connect_writing, only_writer
from groundstation.store.migrate import migrate

log = logging.getLogger(__name__)

TABLES: Final = (
    "frame",
    "report",
    "verdict",
    "fix",
    "phase",
    "landing",
    "alert",
    "delivery",
    "clock_jump",
    "look",
    "found",
    "sighting",
)
"""Each after those that its rows refer to."""

FILES: Final = ("", "-wal", "-shm")
CHECKED_BYTES: Final = 200_000_000
"""A larger file is looked at less thoroughly: a card reads about 20 MB a second."""

PROBED: Final = 50_000
"""Rows between the readable ends that are looked for one by one at most."""


@dataclass(frozen=True, slots=True)
class Salvage:
    """Where the damaged file stands now, and how many packets were taken over from it."""

    aside: Path
    frames: int


def set_aside_if_damaged(path: Path, now_utc: float) -> Salvage | None:
    """Do nothing to a sound database. Raises ``StoreError`` where a damaged one can't be moved."""
    if not path.is_file():
        return None
    with only_writer(path, or_none=True):
        if not _damaged(path):
            return None
        stamp = datetime.fromtimestamp(now_utc, UTC).strftime("%Y%m%dT%H%M%S")
        aside = path.with_name(f"{path.name}.damaged-{stamp}")
        try:
            for ending in FILES:
                with suppress(FileNotFoundError):
                    path.with_name(path.name + ending).rename(aside.with_name(aside.name + ending))
        except OSError as error:
            raise StoreError(
                f"{path} is damaged and can't be set aside ({error.strerror}); move it away"
            ) from error
        frames = _taken_over(aside, path)
    log.error("%s was damaged; it is now %s, and %d packets were read from it", path, aside, frames)
    return Salvage(aside, frames)


def _damaged(path: Path) -> bool:
    try:
        with closing(sqlite3.connect(path)) as connection:
            if path.stat().st_size > CHECKED_BYTES:
                # A start in flight must not take minutes: the ends are where a flight is written.
                for table in TABLES:
                    connection.execute(f"SELECT * FROM {table} LIMIT 1").fetchone()
                connection.execute("SELECT * FROM frame ORDER BY id DESC LIMIT 100").fetchall()
                return False
            row = connection.execute("PRAGMA quick_check(1)").fetchone()
            return bool(row[0] != "ok")
    except sqlite3.OperationalError:
        # Not to be opened or read just now: that is no damage, and told by whoever needs it.
        return False
    except sqlite3.DatabaseError:
        return True


def _taken_over(aside: Path, path: Path) -> int:
    with closing(connect_writing(path)) as fresh:
        migrate(fresh, path)
        fresh.execute("PRAGMA foreign_keys = OFF")
        fresh.execute("BEGIN IMMEDIATE")
        with suppress(sqlite3.Error), closing(sqlite3.connect(aside)) as old:
            for table in TABLES:
                with suppress(sqlite3.Error):
                    _copy(old, fresh, table)
        # What lost its packet, or its report, can't be told from what was never heard.
        for table, of, parent in (
            ("report", "frame_id", "frame"),
            ("verdict", "report_id", "report"),
            ("fix", "report_id", "report"),
            ("delivery", "alert_id", "alert"),
        ):
            fresh.execute(f"DELETE FROM {table} WHERE {of} NOT IN (SELECT id FROM {parent})")
        fresh.execute("COMMIT")
        (frames,) = fresh.execute("SELECT count(*) FROM frame").fetchone()
        return int(frames)


def _copy(old: sqlite3.Connection, fresh: sqlite3.Connection, table: str) -> None:
    places = ", ".join("?" for _ in fresh.execute(f"PRAGMA table_info({table})"))
    for row in _rows(old, table):
        # A damaged page may hold anything; the table is strict about what it takes.
        with suppress(sqlite3.Error):
            fresh.execute(f"INSERT OR IGNORE INTO {table} VALUES ({places})", row)


def _rows(old: sqlite3.Connection, table: str) -> Iterator[tuple[Any, ...]]:
    """From the front until it breaks, from the back until it breaks, and one by one between."""
    ends = []
    key = "alert_id" if table == "delivery" else "rowid"
    for order in ("ASC", "DESC"):
        reached = None
        try:
            for number, *row in old.execute(f"SELECT {key}, * FROM {table} ORDER BY {key} {order}"):
                reached = number
                yield tuple(row)
        except sqlite3.DatabaseError:
            ends.append(reached)
            continue
        return
    first, last = (ends[0] or 0) + 1, ends[1]
    if last is None:
        last = first + PROBED
    for number in range(first, min(last, first + PROBED)):
        with suppress(sqlite3.DatabaseError):
            yield from old.execute(f"SELECT * FROM {table} WHERE {key} = ?", (number,)).fetchall()
