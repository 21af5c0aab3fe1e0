"""The outbox: what is to be delivered to which target, and how that goes.

A delivery is ``pending`` until an attempt takes it (``sending``, on disk before the attempt
begins) and ends as ``delivered``, ``expired``, ``superseded``, ``unwanted`` (the target asked
not to get this kind) or ``failed`` (the target is no longer configured). All functions work on
a transaction that the caller has begun; times are real time.
"""

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from groundstation.flight.alert_records import Alert, Message
from groundstation.flight.moves import moved_between
from groundstation.records import Place, Urgency
from groundstation.store.alert_rows import MESSAGE_COLUMNS, row_message
from groundstation.store.fix_rows import storable

HOUR_S: Final = 3_600.0  # seconds of an hour


@dataclass(frozen=True, slots=True, kw_only=True)
class Dispatch:
    """A message that one target is to get now. ``attempt`` counts from 1; ``uncertain`` is how
    many earlier attempts may have reached the target. ``reworded`` says that its landing point
    moved otherwise from the one that this target was told last, as its alert now says."""

    alert_id: int
    target: str
    attempt: int
    uncertain: int
    message: Message
    reworded: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Nothing:
    """Nothing is due; at ``next_try_utc`` something will be (None: nothing is waiting)."""

    next_try_utc: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetFigures:
    """How the outbox of one target stands. ``uncertain`` counts delivered messages that may
    have arrived twice, ``last_error`` is that of the newest message with one. What waits was
    written at ``oldest_waiting_utc`` or later and is tried at ``next_try_utc`` (0: at once); all
    times are real, None where there is none."""

    target: str
    pending: int
    delivered: int
    expired: int
    superseded: int
    unwanted: int
    failed: int
    uncertain: int
    last_error: str
    last_delivered_utc: float | None = None
    oldest_waiting_utc: float | None = None
    next_try_utc: float | None = None


EXPIRE: Final = """
    UPDATE delivery SET state = 'expired'
    WHERE target = ? AND state = 'pending'
      AND (SELECT written_utc + useful_for_s FROM alert WHERE id = alert_id) <= ?
"""
FIRST_DUE: Final = f"""
    SELECT alert_id, attempts, uncertain, {MESSAGE_COLUMNS}
    FROM delivery JOIN alert ON alert.id = alert_id
    WHERE target = ? AND state = 'pending' AND max(next_try_utc, not_before_utc) <= ?
      AND urgency IN (SELECT value FROM json_each(?))
    ORDER BY alert_id LIMIT 1
"""
TOLD: Final = f"""
    SELECT {MESSAGE_COLUMNS} FROM delivery JOIN alert ON alert.id = alert_id
    WHERE target = ? AND state = 'delivered' AND payload = ? ORDER BY alert_id DESC LIMIT 50
"""
NEXT_TRY: Final = """
    SELECT min(max(next_try_utc, not_before_utc)) FROM delivery
    WHERE target = ? AND state = 'pending'
"""
IN_THE_HOUR: Final = """
    SELECT delivered_utc FROM delivery JOIN alert ON alert.id = alert_id
    WHERE target = ? AND state = 'delivered' AND delivered_utc > ? AND urgency <> 'high'
    ORDER BY delivered_utc DESC LIMIT 1 OFFSET ?
"""
ANY_URGENCY: Final = json.dumps([str(urgency) for urgency in Urgency])
URGENT: Final = json.dumps([str(Urgency.HIGH)])
# An attempt was under way when a newer message of its thread was written: it is left alone while
# it lasts, and not tried again.
PUT_BACK: Final = """
    UPDATE delivery SET
        uncertain = uncertain + ?, next_try_utc = ?, last_error = ?,
        state = iif(EXISTS (
            SELECT 1 FROM alert AS own
            JOIN alert AS newer ON newer.payload = own.payload AND newer.thread = own.thread
            WHERE own.id = delivery.alert_id AND own.thread <> '' AND newer.id > own.id),
            'superseded', 'pending')
"""
FIGURES: Final = """
    SELECT target,
        sum(state IN ('pending', 'sending')), sum(state = 'delivered'), sum(state = 'expired'),
        sum(state = 'superseded'), sum(state = 'unwanted'), sum(state = 'failed'),
        sum(state = 'delivered' AND uncertain > 0),
        (SELECT last_error FROM delivery AS other
         WHERE other.target = delivery.target AND last_error <> ''
         ORDER BY alert_id DESC LIMIT 1),
        max(iif(state = 'delivered', delivered_utc, NULL)),
        min(iif(state IN ('pending', 'sending'), alert.written_utc, NULL)),
        min(iif(state IN ('pending', 'sending'), max(next_try_utc, not_before_utc), NULL))
    FROM delivery JOIN alert ON alert.id = alert_id GROUP BY target ORDER BY target
"""


def begin(connection: sqlite3.Connection, targets: Sequence[str]) -> int:
    """Make the outbox ready after a start and return how many attempts a crash cut short.

    Those are tried again, and counted, because nobody knows whether they arrived. What waits
    for a target that is no longer configured is given up.
    """
    cut_short = connection.execute(
        f"{PUT_BACK} WHERE state = 'sending'", (1, 0.0, "the station stopped during an attempt")
    ).rowcount
    connection.execute("UPDATE delivery SET next_try_utc = 0.0 WHERE state = 'pending'")
    known = ", ".join("?" * len(targets))
    connection.execute(
        "UPDATE delivery SET state = 'failed', last_error = 'this target is no longer configured' "
        f"WHERE state = 'pending' AND target NOT IN ({known})",
        tuple(targets),
    )
    return cut_short


def give_up(connection: sqlite3.Connection, target: str) -> None:
    """What waits for ``target`` is not brought any more."""
    connection.execute(
        "UPDATE delivery SET state = 'failed', last_error = 'it is no longer told' "
        "WHERE state = 'pending' AND target = ?",
        (target,),
    )


def claim(
    connection: sqlite3.Connection, target: str, now_utc: float, most_an_hour: int | None = None
) -> Dispatch | Nothing:
    """Take the first message that is due for ``target``; what is no longer useful expires.

    Once ``most_an_hour`` went out within an hour, only urgent ones do.
    """
    connection.execute(EXPIRE, (target, now_utc))
    enough = None
    if most_an_hour is not None:
        enough = connection.execute(
            IN_THE_HOUR, (target, now_utc - HOUR_S, most_an_hour - 1)
        ).fetchone()
    urgencies = ANY_URGENCY if enough is None else URGENT
    row = connection.execute(FIRST_DUE, (target, now_utc, urgencies)).fetchone()
    if row is None:
        (next_try_utc,) = connection.execute(NEXT_TRY, (target,)).fetchone()
        if enough is not None and next_try_utc is not None:
            next_try_utc = max(next_try_utc, enough[0] + HOUR_S)
        return Nothing(next_try_utc=next_try_utc)
    alert_id, attempts, uncertain = row[:3]
    connection.execute(
        "UPDATE delivery SET state = 'sending', attempts = attempts + 1 "
        "WHERE alert_id = ? AND target = ?",
        (alert_id, target),
    )
    message = row_message(row[3:])
    moved = moved_between(_last_told(connection, target, message.alert), message.alert.point)
    return Dispatch(
        alert_id=alert_id,
        target=target,
        attempt=attempts + 1,
        uncertain=uncertain,
        message=replace(message, alert=replace(message.alert, moved=moved)),
        reworded=moved != message.alert.moved,
    )


def _last_told(connection: sqlite3.Connection, target: str, alert: Alert) -> Place | None:
    """The landing point that ``target`` was told last of this flight, as far as is sure."""
    if alert.point is None:
        return None
    for row in connection.execute(TOLD, (target, storable(alert.payload))):
        earlier = row_message(row).alert
        if earlier.point is not None and earlier.key.begun_utc == alert.key.begun_utc:
            return earlier.point
    return None


def delivered(connection: sqlite3.Connection, dispatch: Dispatch, now_utc: float) -> None:
    """The target took it. Since it answers again, whatever waits for it is due at once."""
    connection.execute(
        "UPDATE delivery SET state = 'delivered', delivered_utc = ? "
        "WHERE alert_id = ? AND target = ?",
        (now_utc, dispatch.alert_id, dispatch.target),
    )
    connection.execute(
        "UPDATE delivery SET next_try_utc = 0.0 WHERE target = ? AND state = 'pending'",
        (dispatch.target,),
    )


def postpone(
    connection: sqlite3.Connection,
    dispatch: Dispatch,
    *,
    next_try_utc: float,
    reason: str,
    may_have_arrived: bool,
) -> None:
    """The attempt failed: try again at ``next_try_utc``, unless a newer message has come."""
    connection.execute(
        f"{PUT_BACK} WHERE alert_id = ? AND target = ?",
        (may_have_arrived, next_try_utc, storable(reason), dispatch.alert_id, dispatch.target),
    )


def unwanted(connection: sqlite3.Connection, dispatch: Dispatch) -> None:
    """The target does not want messages of this kind; no attempt was made."""
    connection.execute(
        "UPDATE delivery SET state = 'unwanted', attempts = attempts - 1 "
        "WHERE alert_id = ? AND target = ?",
        (dispatch.alert_id, dispatch.target),
    )


def acknowledge(connection: sqlite3.Connection, key: str, now_utc: float) -> bool:
    """A person has seen the alert ``key``: nobody else need be called. False for an unknown key."""
    found = connection.execute(
        "UPDATE alert SET acknowledged_utc = coalesce(acknowledged_utc, ?) WHERE key = ?",
        (now_utc, storable(key)),
    ).rowcount
    connection.execute(
        "UPDATE delivery SET state = 'unwanted' WHERE state = 'pending' AND escalates = 1"
        " AND alert_id = (SELECT id FROM alert WHERE key = ?)",
        (storable(key),),
    )
    return bool(found)


def figures(connection: sqlite3.Connection) -> tuple[TargetFigures, ...]:
    """The standing of every target that ever had a message, by name."""
    return tuple(
        TargetFigures(
            target=row[0],
            pending=row[1],
            delivered=row[2],
            expired=row[3],
            superseded=row[4],
            unwanted=row[5],
            failed=row[6],
            uncertain=row[7],
            last_error=row[8] or "",
            last_delivered_utc=row[9],
            oldest_waiting_utc=row[10],
            next_try_utc=row[11],
        )
        for row in connection.execute(FIGURES)
    )
