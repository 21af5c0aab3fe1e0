"""Alerts in words as rows of the database and back.

The facts of an alert come back without the outlines of its landing regions: those are in the
table of estimates, and a message on the way to a phone has no use for them.
"""

import json
from typing import Any, Final

from groundstation.records import (
    Alert,
    AlertKind,
    Fix,
    Landing,
    Message,
    Phase,
    Urgency,
)
from groundstation.store.codec import Row, number, storable

ALERT_COLUMNS: Final = (
    "key, payload, kind, time_utc, phase, urgency, thread, useful_for_s, written_utc, title, "
    "body, facts"
)
MESSAGE_COLUMNS: Final = (
    "key, payload, kind, time_utc, phase, urgency, thread, useful_for_s, title, body, facts"
)


def message_row(message: Message, written_utc: float) -> Row:
    alert = message.alert
    facts = {
        "figures": dict(alert.figures),
        "note": alert.note,
        "fix": None if alert.fix is None else _values(alert.fix),
        "landing": None
        if alert.landing is None
        else _values(alert.landing) | {"region_50": (), "region_90": ()},
    }
    return (
        storable(alert.key),
        storable(alert.payload),
        str(alert.kind),
        alert.time_utc,
        str(alert.phase),
        str(alert.urgency),
        storable(alert.thread),
        alert.useful_for_s,
        written_utc,
        storable(message.title),
        storable(message.body),
        json.dumps(facts),
    )


def row_message(row: Row) -> Message:
    key, payload, kind, time_utc, phase, urgency, thread, useful_for_s, title, body, text = row
    facts = json.loads(text)
    alert = Alert(
        payload=payload,
        kind=AlertKind(kind),
        key=key,
        time_utc=number(time_utc),
        phase=Phase(phase),
        urgency=Urgency(urgency),
        fix=None if facts["fix"] is None else _fix(facts["fix"]),
        landing=None if facts["landing"] is None else _landing(facts["landing"]),
        figures=facts["figures"],
        note=facts["note"],
        thread=thread,
        useful_for_s=useful_for_s,
    )
    return Message(alert=alert, title=title, body=body)


def _values(record: Fix | Landing) -> dict[str, Any]:
    return {name: getattr(record, name) for name in record.__dataclass_fields__}


def _fix(values: dict[str, Any]) -> Fix:
    pairs = tuple((name, value) for name, value in values["telemetry"])
    return Fix(**values | {"telemetry": pairs})


def _landing(values: dict[str, Any]) -> Landing:
    first, last = values["eta_90_utc"]
    rates = values["descent_rate_90_ms"]
    return Landing(
        **values
        | {
            "phase": Phase(values["phase"]),
            "eta_90_utc": (first, last),
            "region_50": (),
            "region_90": (),
            "descent_rate_90_ms": rates and (rates[0], rates[1]),
            "inside": tuple((name, share) for name, share in values.get("inside", ())),
        }
    )
