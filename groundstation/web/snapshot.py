"""What the page shows: one moment of the station. A field is written here, and filled in
``station/overview.py``; JSON, the API's description and the page's types follow from it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Annotated

from groundstation.records import AlertKind, Reason
from groundstation.schema.fields import (
    Angle,
    Latitude,
    Longitude,
    Metres,
    Number,
    Plain,
    Seconds,
    Speed,
    Time,
    TimeAlone,
    Untold,
)
from groundstation.web.payload_snapshot import BaseSnapshot, PayloadSnapshot


class DisplayUnits(StrEnum):
    """What the person reads; inside it is SI."""

    METRIC = "metric"
    FEET_MILES = "feet-miles"


class SourceState(StrEnum):
    """How a source is. ``QUIET`` is connected, but nothing has come for longer than usual."""

    STARTING = "starting"
    RUNNING = "running"
    QUIET = "quiet"
    WAITING = "waiting"
    ENDED = "ended"


@dataclass(frozen=True, slots=True, kw_only=True)
class WaySnapshot:
    """From a vehicle to a landing."""

    payload: Annotated[str, "Whose landing."]
    distance_m: Annotated[Metres, "From the vehicle to the point."]
    bearing_deg: Annotated[Angle, "From the vehicle to the point."]
    straight_in_s: Annotated[
        Annotated[float, Number(0)] | None,
        "How long it takes in a straight line at the vehicle's speed; null while it stands.",
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleSnapshot:
    """A chase vehicle, or a phone of the crew that says where it is."""

    vehicle: Annotated[str, "Its name."]
    time_utc: Annotated[Time, "When it was there."]
    latitude_deg: Annotated[Latitude, "Where it was."]
    longitude_deg: Annotated[Longitude, "Where it was."]
    speed_ms: Annotated[Speed | None, "How fast it went; null where it does not say."]
    course_deg: Annotated[Angle | None, "Which way it went; null where it does not say."]
    to_landing: Annotated[tuple[WaySnapshot, ...], "The way to each payload's landing."] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceiverSnapshot:
    """What one receiver brought to a source."""

    name: Annotated[str, "A device, an address or a topic."]
    frames: Annotated[int, "How many it brought."]
    last_utc: Annotated[Time, "When the last one came."]


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceSnapshot:
    """One source of frames."""

    name: Annotated[str, "As the configuration has it."]
    kind: Annotated[str, "What it is, in words."]
    state: Annotated[SourceState, "How it is; quiet is connected, but silent for long."]
    since_utc: Annotated[Time, "Since when it is so."]
    frames: Annotated[int, "How many came since the station started."] = 0
    last_frame_utc: Annotated[Time | None, "When the last one came; null before the first."] = None
    failures: Annotated[int, "How often it failed since it last worked."] = 0
    last_error: Annotated[str, "Why it failed last, in words; empty where it never did."] = ""
    next_try_s: Annotated[Seconds | None, "Real seconds until it is tried again; null if not."] = (
        None
    )
    receivers: Annotated[tuple[ReceiverSnapshot, ...], "What brought its frames."] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetSnapshot:
    """One target of alerts, and how its outbox stands."""

    name: Annotated[str, "As the configuration has it."]
    kind: Annotated[str, "What it is."] = ""
    waiting: Annotated[int, "Alerts that it has not taken yet."] = 0
    delivered: Annotated[int, "Alerts that it took."] = 0
    expired: Annotated[int, "Alerts that were of no use any more before it took them."] = 0
    uncertain: Annotated[int, "Delivered ones that may have arrived twice."] = 0
    failures: Annotated[int, "Alerts given up because the target is no longer configured."] = 0
    last_delivered_utc: Annotated[Time | None, "When it last took one; null if it never did."] = (
        None
    )
    oldest_waiting_utc: Annotated[
        Time | None, "When the oldest alert that waits was written; null where none waits."
    ] = None
    last_error: Annotated[str, "Why it last took none, in words; empty if that never was."] = ""
    next_try_s: Annotated[
        Seconds | None, "Real seconds until it is tried again; null where none waits."
    ] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MessageSnapshot:
    """An alert as it was worded."""

    time_utc: Annotated[Time, "When it was raised."]
    kind: Annotated[AlertKind, "What it is about."]
    title: Annotated[str, "What happened, in a few words."]
    body: Annotated[str, "All of its words."]
    key: Annotated[str, "Which alert it is; to mark it as seen."]
    seen: Annotated[bool, "Whether somebody has marked it as seen."] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """What came in since the station started."""

    frames: Annotated[int, "Pieces of input."] = 0
    fixes: Annotated[int, "Positions that were believed."] = 0
    rejected: Annotated[Mapping[Reason, int], "What was not used, by reason."] = field(
        default_factory=dict
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class StationSnapshot:
    """One moment of the whole station. Times are the station's own, also in a rehearsal."""

    now_utc: Annotated[TimeAlone, "The station's time."]
    started_utc: Annotated[TimeAlone, "When the station was started."]
    station: Annotated[str, "Its name."]
    rehearsal: Annotated[bool, "Whether this is a recording, played."] = False
    speed: Annotated[Plain | None, "Seconds of the station in a real one."] = 1.0
    timezone: Annotated[str, "In which times are read, as the IANA names it."] = "UTC"
    units: Annotated[DisplayUnits, "In which lengths and speeds are read."] = DisplayUnits.METRIC
    base: Annotated[BaseSnapshot | None, "Where its antenna stands, if that is set."] = None
    problems: Annotated[tuple[str, ...], "What needs somebody, in sentences, worst first."] = ()
    payloads: Annotated[tuple[PayloadSnapshot, ...], "In the order of the configuration."] = ()
    vehicles: Annotated[tuple[VehicleSnapshot, ...], "Who drives there."] = ()
    sources: Annotated[tuple[SourceSnapshot, ...], "Where frames come from."] = ()
    targets: Annotated[tuple[TargetSnapshot, ...], "Where alerts go."] = ()
    counts: Annotated[Counts, "What came in."] = field(default_factory=Counts)
    messages: Annotated[tuple[MessageSnapshot, ...], "The alerts, newest first."] = ()
    unwritten: Annotated[int, Untold()] = 0
    """Steps that the disk has not taken yet."""
    still_s: Annotated[float, Untold()] = 0.0
    """How many real seconds the pipeline has not moved."""
    disk_free_bytes: Annotated[int | None, Untold()] = None
    disk_written_bytes: Annotated[int | None, Untold()] = None
    memory_bytes: Annotated[int | None, Untold()] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HealthSnapshot:
    """A few numbers for a monitor: is it alive, does anything come in, does anything wait."""

    now_utc: Annotated[TimeAlone, "The station's time."]
    started_utc: Annotated[TimeAlone, "When the station was started."]
    rehearsal: Annotated[bool, "Whether this is a recording, played."]
    problems: Annotated[int, "How many things need somebody."]
    sources: Annotated[Mapping[str, SourceState], "How each source is."]
    frames: Annotated[int, "Pieces of input since the start."]
    fixes: Annotated[int, "Positions that were believed."]
    heard_age_s: Annotated[Seconds | None, "Since a payload was last heard; null if never."]
    outbox_waiting: Annotated[int, "Alerts that no target has taken yet."]
