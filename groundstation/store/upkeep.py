"""Copies of the database while it is in use, and room made in it; a flight is never removed."""

import os
import sqlite3
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from groundstation.errors import StoreError
from groundstation.store.connection import connect_reading

PAGES: Final = 256  # own choice: a short step, so that the writer waits little
PAUSE_S: Final = 0.02
"""A megabyte at a time, and a pause, so that an SD card has time for what comes in."""

OF_NO_FLIGHT: Final = """
    SELECT id FROM frame WHERE received_utc < ? AND id NOT IN (
        SELECT report.frame_id FROM report JOIN fix ON fix.report_id = report.id)
    ORDER BY id LIMIT ?
"""


def back_up(path: Path, folder: Path, now_utc: float, keep: int) -> Path:
    """Copy the database ``path`` into ``folder`` by SQLite's online backup, and keep the newest
    ``keep`` copies. Raises ``StoreError``; then the older copies are as they were."""
    stamp = datetime.fromtimestamp(now_utc, UTC).strftime("%Y%m%dT%H%M%SZ")
    made = folder / f"{path.stem}-{stamp}.db"
    unfinished = made.with_suffix(".unfinished")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with (
            closing(connect_reading(path)) as source,
            closing(sqlite3.connect(unfinished)) as copy,
        ):
            source.backup(copy, pages=PAGES, sleep=PAUSE_S)
            copy.execute("PRAGMA journal_mode = DELETE")
            (state,) = copy.execute("PRAGMA quick_check(1)").fetchone()
        if state != "ok":
            raise StoreError(f"the copy {unfinished} is not sound: {state}")
        with unfinished.open("rb") as file:
            os.fsync(file.fileno())
        unfinished.replace(made)
        for old in sorted(folder.glob(f"{path.stem}-*Z.db"))[:-keep]:
            old.unlink()
    except (OSError, sqlite3.Error) as error:
        # A folder that takes no copy may not let go of half of one either.
        with suppress(OSError):
            unfinished.unlink(missing_ok=True)
        raise StoreError(f"{path} can't be copied into {folder}: {error}") from error
    return made


def tidy(connection: sqlite3.Connection, before_utc: float, most: int = 2_000) -> int:
    """Remove frames from before ``before_utc`` that gave no fix, at most ``most``; how many.

    What any flight rests on stays for ever.
    """
    rows = connection.execute(OF_NO_FLIGHT, (before_utc, most)).fetchall()
    connection.executemany(
        "DELETE FROM verdict WHERE report_id IN (SELECT id FROM report WHERE frame_id = ?)", rows
    )
    connection.executemany("DELETE FROM report WHERE frame_id = ?", rows)
    connection.executemany("DELETE FROM frame WHERE id = ?", rows)
    return len(rows)
