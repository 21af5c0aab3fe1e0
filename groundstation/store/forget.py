"""Removing one flight from a database, because its person asked for it."""

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Final

from groundstation.errors import StoreError
from groundstation.store.connection import connect_writing, only_writer
from groundstation.store.migrate import refuse_newer, refuse_older

_ITS_REPORTS: Final = (
    "SELECT report_id FROM fix WHERE payload = ? AND time_utc >= ? AND time_utc < ?"
)
_SHARED: Final = """
    SELECT other.frame_id FROM report AS other JOIN fix ON fix.report_id = other.id
    WHERE other.id NOT IN (SELECT id FROM temp.gone_report)
"""


def forget(path: Path, payload: str, since_utc: float, until_utc: float) -> int:
    """Remove all of ``payload`` between these times: fixes, the frames they came in, estimates,
    phases, alerts, looks, finds and sightings; how many fixes went.

    A frame that also brought another payload's fix stays. All goes at once or nothing does. Raises
    ``StoreError``, also while a station is running on it.
    """
    span = (payload, since_utc, until_utc)
    with only_writer(path), closing(connect_writing(path)) as connection:
        refuse_newer(connection, path)
        refuse_older(connection, path)
        try:
            # What was removed must not stay readable in free pages.
            connection.execute("PRAGMA secure_delete = ON")
            connection.execute("BEGIN IMMEDIATE")
            removed = _remove(connection, span)
            connection.execute("COMMIT")
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        except sqlite3.Error as error:
            raise StoreError(f"{path}: the flight can't be removed: {error}") from error
    return removed


def _remove(connection: sqlite3.Connection, span: tuple[str, float, float]) -> int:
    connection.execute("CREATE TEMP TABLE gone_report (id INTEGER PRIMARY KEY, frame_id INTEGER)")
    connection.execute(
        f"INSERT INTO gone_report SELECT id, frame_id FROM report WHERE id IN ({_ITS_REPORTS})",
        span,
    )
    # The same tracker's copies and refused reports of that time, too.
    payload, since_utc, until_utc = span
    connection.execute(
        "INSERT OR IGNORE INTO gone_report SELECT report.id, report.frame_id FROM report"
        " JOIN frame ON frame.id = report.frame_id WHERE report.tracker IN"
        f" (SELECT DISTINCT tracker FROM fix WHERE report_id IN ({_ITS_REPORTS}))"
        " AND frame.received_utc >= ? AND frame.received_utc < ?"
        " AND report.id NOT IN (SELECT report_id FROM fix)",
        (payload, since_utc, until_utc, since_utc, until_utc),
    )
    # A frame goes only if nobody else's fix was in it.
    connection.execute(
        "CREATE TEMP TABLE gone_frame AS SELECT DISTINCT frame_id AS id FROM gone_report"
        f" WHERE frame_id NOT IN ({_SHARED})"
    )
    removed = connection.execute(
        "DELETE FROM fix WHERE payload = ? AND time_utc >= ? AND time_utc < ?", span
    ).rowcount
    its = (
        "(SELECT id FROM gone_report UNION"
        " SELECT id FROM report WHERE frame_id IN (SELECT id FROM gone_frame))"
    )
    connection.execute(f"DELETE FROM verdict WHERE report_id IN {its}")
    connection.execute(f"DELETE FROM report WHERE id IN {its}")
    connection.execute("DELETE FROM frame WHERE id IN (SELECT id FROM gone_frame)")
    connection.execute(
        "DELETE FROM delivery WHERE alert_id IN (SELECT id FROM alert"
        " WHERE payload = ? AND time_utc >= ? AND time_utc < ?)",
        span,
    )
    for table, column in (
        ("alert", "time_utc"), ("landing", "time_utc"), ("phase", "since_utc"),
        ("look", "time_utc"), ("found", "told_utc"), ("sighting", "at_utc"),
    ):  # fmt: skip
        connection.execute(
            f"DELETE FROM {table} WHERE payload = ? AND {column} >= ? AND {column} < ?", span
        )
    return removed
