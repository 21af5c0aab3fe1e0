"""Alerts in words as rows of the database and back.

The facts of an alert come back without the outlines of its landing regions: those are in the
table of estimates, and a message on the way to a phone has no use for them.
"""

import json
import math
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import MISSING, asdict, fields
from typing import Any, Final, get_args

from groundstation.flight.alert_records import (
    Alert,
    AlertKey,
    Facts,
    Message,
    Moved,
    OnGround,
    ShouldBeDown,
    SignalLoss,
    SilenceCause,
    Silent,
    TellsLanding,
    TouchdownSoon,
)
from groundstation.records import (
    Act,
    AlertKind,
    Fix,
    Instruction,
    Landing,
    Phase,
    Place,
    Standing,
    Urgency,
)
from groundstation.store.fix_rows import Row, number, storable

ALERT_COLUMNS: Final = (
    "key, payload, kind, time_utc, phase, urgency, thread, useful_for_s, written_utc, title, "
    "body, facts"
)
MESSAGE_COLUMNS: Final = (
    "key, payload, kind, time_utc, phase, urgency, thread, useful_for_s, title, body, facts"
)
FACTS: Final[Mapping[AlertKind, type[Facts]]] = {
    facts_type.kind: facts_type for facts_type in get_args(Facts)
}

# What the fields of today were called in the databases of versions up to 2026-11, by kind or for
# all kinds.
OLD_NAMES: Final[Mapping[tuple[AlertKind | None, str], str]] = {
    (AlertKind.BURST, "altitude_m"): "burst_altitude_m",
    (AlertKind.BURST, "planned_m"): "planned_burst_m",
    (AlertKind.FLOATING, "altitude_m"): "float_altitude_m",
    (AlertKind.FALLING_FAST, "planned_ms"): "planned_descent_rate_ms",
    (AlertKind.FALLING_SLOWLY, "planned_ms"): "planned_descent_rate_ms",
    (AlertKind.CLIMBING_FAST, "planned_ms"): "planned_ascent_rate_ms",
    (AlertKind.CLIMBING_SLOWLY, "planned_ms"): "planned_ascent_rate_ms",
}


def message_row(message: Message, written_utc: float) -> Row:
    alert = message.alert
    values = {field.name: getattr(alert.facts, field.name) for field in fields(alert.facts)}
    values.pop("landing", None)
    facts = {
        "told": {name: _plain(value) for name, value in values.items()},
        "moved": alert.moved and asdict(alert.moved),
        "instruction": alert.instruction and asdict(alert.instruction),
        "link": message.link,
        "fix": None if alert.fix is None else _values(alert.fix),
        "landing": None
        if alert.landing is None
        else _values(alert.landing) | {"region_50": (), "region_90": (), "progress": None},
    }
    return (
        storable(alert.key.text),
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
    known = key_of(key) or AlertKey(
        payload=payload, begun_utc=None, kind=AlertKind(kind), occasion=key
    )
    alert = Alert(
        key=known,
        time_utc=number(time_utc),
        phase=Phase(phase),
        facts=_facts(AlertKind(kind), facts),
        urgency=Urgency(urgency),
        fix=None if facts["fix"] is None else _fix(facts["fix"]),
        moved=_moved(kind, facts),
        instruction=_instruction(facts.get("instruction")),
        thread=thread,
        useful_for_s=useful_for_s,
    )
    return Message(alert=alert, title=title, body=body, link=facts.get("link", ""))


def key_of(text: str) -> AlertKey | None:
    """The key that ``text`` stands for; None where no version wrote it."""
    with suppress(ValueError):
        return AlertKey.of(text)
    return None


def _moved(kind: str, facts: dict[str, Any]) -> Moved | None:
    moved = facts.get("moved")
    if moved is None and kind == AlertKind.LANDING_MOVED:
        figures = facts.get("figures", {})  # of an older version
        if "moved_m" in figures:
            moved = {"distance_m": figures["moved_m"], "bearing_deg": figures["bearing_deg"]}
    return moved and Moved(**moved)


def _instruction(stored: dict[str, Any] | None) -> Instruction | None:
    if stored is None:
        return None
    where, launch = (stored[name] and Place(**stored[name]) for name in ("where", "launch"))
    return Instruction(
        **stored
        | {
            "act": Act(stored["act"]),
            "phase": Phase(stored["phase"]),
            "standing": Standing(stored.get("standing", Standing.WAITING)),
            "where": where,
            "launch": launch,
        }
    )


def _plain(value: Any) -> Any:
    return asdict(value) if isinstance(value, Place | SignalLoss) else value


def _facts(kind: AlertKind, facts: dict[str, Any]) -> Facts:
    values = facts["told"] if "told" in facts else _older(kind, facts)
    record = FACTS[kind]
    if issubclass(record, TellsLanding):
        values["landing"] = None if facts["landing"] is None else _landing(facts["landing"])
    if record is Silent:
        values["cause"] = SilenceCause(values["cause"])
        values["by_now"] = values["by_now"] and Place(**values["by_now"])
        values["by_now_90_m"] = values.get("by_now_90_m") and tuple(values["by_now_90_m"])
    if record is ShouldBeDown:
        values["hints"] = tuple(map(OnGround, values["hints"]))
    if record is TouchdownSoon:
        values["loss"] = values["loss"] and SignalLoss(**values["loss"])
    return record(**values)


def _older(kind: AlertKind, facts: dict[str, Any]) -> dict[str, Any]:
    """The fields of today from the names, numbers and notes of before."""
    figures, note = facts["figures"], facts["note"]
    match kind:
        case AlertKind.STATION:
            what, _, more = note.partition("\n")
            return {"what": what, "more": more}
        case AlertKind.KEEP_OUT:
            return {"area": note, "share": figures.get("share", math.nan)}
        case AlertKind.SILENT:
            return _older_silence(figures)
        case AlertKind.HEARD_AGAIN:
            return {"silent_s": figures.get("silent_s", math.nan)}
        case AlertKind.LAUNCHED | AlertKind.LANDED | AlertKind.SHOULD_BE_DOWN:
            return {} if kind is not AlertKind.SHOULD_BE_DOWN else {"hints": ()}
        case AlertKind.TOUCHDOWN_SOON:
            loss = None
            if "lost_agl_m" in figures:
                loss = {"agl_m": figures["lost_agl_m"], "in_s": figures["lost_in_s"]}
            return {"remaining_s": figures.get("remaining_s", math.nan), "loss": loss}
    values: dict[str, Any] = {}
    for field in fields(FACTS[kind]):
        name = OLD_NAMES.get((kind, field.name), field.name)
        if name in figures:
            values[field.name] = figures[name]
        elif field.default is MISSING and field.default_factory is MISSING:
            values[field.name] = None if field.name.startswith("planned") else math.nan
    return values


def _older_silence(figures: dict[str, float]) -> dict[str, Any]:
    by_now = None
    if "now_latitude_deg" in figures:
        by_now = {
            "latitude_deg": figures["now_latitude_deg"],
            "longitude_deg": figures["now_longitude_deg"],
            "altitude_m": figures.get("now_altitude_m"),
        }
    expected = SilenceCause.DOWN if by_now is None else SilenceCause.BELOW_HORIZON
    return {
        "silent_s": figures.get("silent_s", math.nan),
        "cause": expected if figures.get("expected") else SilenceCause.NOT_EXPECTED,
        "source": "",
        "by_now": by_now,
    }


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
            "progress": None,
            "descent_rate_90_ms": rates and (rates[0], rates[1]),
            "inside": tuple((name, share) for name, share in values.get("inside", ())),
        }
    )
