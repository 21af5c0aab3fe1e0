"""Writing a batch into an open transaction."""

import sqlite3
from collections.abc import Mapping
from typing import Final

from groundstation.flight.alert_records import Message
from groundstation.records import Verdict
from groundstation.store import sighting_rows
from groundstation.store.alert_rows import ALERT_COLUMNS, message_row
from groundstation.store.batch import Batch
from groundstation.store.estimate_rows import (
    LANDING_COLUMNS,
    PHASE_COLUMNS,
    landing_row,
    phase_row,
)
from groundstation.store.fix_rows import (
    FIX_COLUMNS,
    FRAME_COLUMNS,
    REPORT_COLUMNS,
    fix_row,
    frame_row,
    report_row,
    storable,
)
from groundstation.store.patience import Patience


def _insert(table: str, columns: str, otherwise: str = "") -> str:
    places = ", ".join("?" * len(columns.split(",")))
    return f"INSERT {otherwise} INTO {table} ({columns}) VALUES ({places})"


INSERT_FRAME: Final = _insert("frame", FRAME_COLUMNS)
INSERT_REPORT: Final = _insert("report", REPORT_COLUMNS)
INSERT_LANDING: Final = _insert("landing", LANDING_COLUMNS)
# A restart folds the flight again and may come to the same change once more.
INSERT_PHASE: Final = _insert("phase", PHASE_COLUMNS, "OR IGNORE")
INSERT_VERDICT: Final = _insert(
    "verdict", "report_id, standing, reason, detail, decided_seq", "OR REPLACE"
)
INSERT_FIX: Final = _insert("fix", FIX_COLUMNS, "OR REPLACE")
DELETE_FIX: Final = "DELETE FROM fix WHERE report_id = ?"
# Not OR IGNORE, which would also pass over a broken constraint: only a key may be known already.
INSERT_JUMP: Final = _insert("clock_jump", "after_seq, by_s")
INSERT_ALERT: Final = _insert("alert", ALERT_COLUMNS) + " ON CONFLICT (key) DO NOTHING"
INSERT_DELIVERY: Final = """
    INSERT INTO delivery (alert_id, target, state, not_before_utc, escalates)
    VALUES (?, ?, 'pending', ?, ?)
"""
SUPERSEDE: Final = """
    UPDATE delivery SET state = 'superseded'
    WHERE state = 'pending' AND alert_id IN (
        SELECT id FROM alert WHERE payload = ? AND thread = ? AND id < ?)
"""


def write_batch(
    connection: sqlite3.Connection,
    batch: Batch,
    targets: Mapping[str, Patience],
    now_utc: float,
) -> frozenset[str]:
    """Write ``batch`` and return the keys of those of its messages that were not known yet.

    ``now_utc`` is real time, from which the usefulness of a message runs out. The caller begins
    and ends the transaction. Raises ``sqlite3.Error``.
    """
    connection.executemany(INSERT_FRAME, [frame_row(*numbered) for numbered in batch.frames])
    connection.executemany(INSERT_REPORT, [report_row(*numbered) for numbered in batch.reports])
    if batch.landings:
        rows = [landing_row(seq, landing) for seq, landing in batch.landings]
        connection.executemany(INSERT_LANDING, rows)
    if batch.verdicts:
        _write_verdicts(connection, batch)
    if batch.phases:
        connection.executemany(INSERT_PHASE, [phase_row(change) for change in batch.phases])
    for seq, word in batch.people:
        sighting_rows.write(connection, seq, word)
    if batch.clock_jumps:
        connection.executemany(INSERT_JUMP, batch.clock_jumps)
    return frozenset(
        message.alert.key.text
        for message in batch.messages
        if _write_message(connection, message, targets, now_utc)
    )


def _write_verdicts(connection: sqlite3.Connection, batch: Batch) -> None:
    last_words = {verdict.report_id: verdict for verdict in batch.verdicts}
    seq = max(
        *last_words,
        batch.frames[-1][0] if batch.frames else 0,
        batch.reports[-1][0] if batch.reports else 0,
        batch.landings[-1][0] if batch.landings else 0,
        batch.people[-1][0] if batch.people else 0,
    )
    connection.executemany(
        INSERT_VERDICT,
        [
            (v.report_id, _standing(v), v.reason and str(v.reason), storable(v.detail), seq)
            for v in last_words.values()
        ],
    )
    fixes = [fix_row(report_id, v.fix) for report_id, v in last_words.items() if v.fix]
    connection.executemany(INSERT_FIX, fixes)
    earlier = last_words.keys() - {report_id for report_id, _, _ in batch.reports}
    overturned = [(report_id,) for report_id in earlier if last_words[report_id].fix is None]
    connection.executemany(DELETE_FIX, overturned)


def _standing(verdict: Verdict) -> str:
    if verdict.height is not None:
        return "accepted"
    if verdict.fix is None:
        return "rejected"
    return "late" if verdict.fix.late else "accepted"


def _write_message(
    connection: sqlite3.Connection,
    message: Message,
    targets: Mapping[str, Patience],
    now_utc: float,
) -> bool:
    written = connection.execute(INSERT_ALERT, message_row(message, now_utc))
    if not written.rowcount:
        return False
    alert_id = written.lastrowid
    rows = [
        (alert_id, name, patience.not_before_utc(message, now_utc), bool(patience.unseen_s))
        for name, patience in targets.items()
    ]
    connection.executemany(INSERT_DELIVERY, rows)
    if message.alert.thread:
        alert = message.alert
        connection.execute(SUPERSEDE, (storable(alert.payload), storable(alert.thread), alert_id))
    return True
