"""Where writing goes on while the disk takes nothing: a database in memory, and a list of what was
done to it.

Every work on the database gives the same result from the same rows, so doing the list again on the
disk, in the same order, brings the disk to where the memory is. Until then nothing counts as kept.
"""

import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from groundstation.store.migrate import migrate

MOST_BYTES: Final = 48 << 20
"""So much is held in memory at most: a day of two trackers at one packet a second. Own choice."""

COPIED: Final = ("alert", "delivery")
"""What decides whether an alert is new and what waits for whom."""

Work = Callable[[sqlite3.Connection], Any]


class Lifeboat:
    """Made when the disk fails. ``disk`` is what can still be read of it, or None."""

    def __init__(self, disk: sqlite3.Connection | None) -> None:
        self.connection = sqlite3.connect(":memory:", isolation_level=None)
        migrate(self.connection, Path(":memory:"))
        # What older rows refer to is on the disk.
        self.connection.execute("PRAGMA foreign_keys = OFF")
        self.log: list[Work] = []
        self.bytes = 0
        if disk is not None:
            for table in COPIED:
                rows = disk.execute(f"SELECT * FROM {table}").fetchall()
                if rows:
                    places = ", ".join("?" * len(rows[0]))
                    self.connection.executemany(f"INSERT INTO {table} VALUES ({places})", rows)

    def keep(self, work: Work, size: int) -> None:
        self.log.append(work)
        self.bytes += size

    @property
    def full(self) -> bool:
        return self.bytes > MOST_BYTES

    def empty_into(self, disk: sqlite3.Connection) -> None:
        """Do everything again on ``disk``, in one transaction. Raises ``sqlite3.Error``; then the
        disk is as it was."""
        disk.execute("BEGIN IMMEDIATE")
        try:
            for work in self.log:
                work(disk)
            disk.execute("COMMIT")
        except BaseException:
            if disk.in_transaction:
                disk.execute("ROLLBACK")
            raise

    def close(self) -> None:
        self.connection.close()
