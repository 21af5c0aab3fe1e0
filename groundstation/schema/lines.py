"""What is told besides landings, one object a line: by replays, on a broker, and in the API's
description. ``schema/landing.py`` has the landings."""

import base64
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Final

from groundstation.flight.alert_records import Message
from groundstation.jsonout import JsonObject, frame_text
from groundstation.records import AlertKind, Fix, Frame, Phase, PhaseChange, Reason
from groundstation.schema.encode import record_json
from groundstation.schema.fields import (
    Angle,
    AsSent,
    IfAny,
    Latitude,
    Longitude,
    Metres,
    Named,
    TimeAlone,
)
from groundstation.schema.landing import LandingTold


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseTold:
    """A change of phase."""

    kind: Annotated[str, "Always phase."] = "phase"
    time_utc: Annotated[TimeAlone, "When it was known."]
    payload: Annotated[str, "Whose phase it is."]
    phase: Annotated[Phase, "The new one."]
    since_utc: Annotated[TimeAlone, "Since when it holds."]


@dataclass(frozen=True, slots=True, kw_only=True)
class PointTold:
    """A place on the ground."""

    latitude_deg: Annotated[Latitude, "North is positive."]
    longitude_deg: Annotated[Longitude, "East is positive."]


@dataclass(frozen=True, slots=True, kw_only=True)
class AlertTold:
    """An alert with its words."""

    kind: Annotated[str, "Always alert."] = "alert"
    time_utc: Annotated[TimeAlone, "When it was raised."]
    payload: Annotated[str, "Of what it tells: a payload, or the station."]
    alert: Annotated[AlertKind, "Which kind of alert."]
    key: Annotated[str, "An alert is told once for each key."]
    title: Annotated[str, "What happened, in a line."]
    body: Annotated[str, "The rest, in lines."]
    landing: Annotated[PointTold | None, "The landing point that it tells."] = None
    moved_m: Annotated[Metres | None, "How far that is from the one told before."] = None
    bearing_deg: Annotated[Angle | None, "Which way it moved, from north."] = None
    instruction: Annotated[str, "What is to be done: the first line of the body."]


@dataclass(frozen=True, slots=True, kw_only=True)
class RejectedTold:
    """A frame that was not used, and why."""

    kind: Annotated[str, "Always rejected."] = "rejected"
    time_utc: Annotated[TimeAlone, "When it was judged."]
    reason: Annotated[Reason, "Why it was not used."]
    frame: Annotated[str, "Its bytes as text; what can't be printed is written as \\xNN."]
    detail: Annotated[str, "More of the reason, in words."]
    source: Annotated[str, "The source that heard it."]


@dataclass(frozen=True, slots=True, kw_only=True)
class FixTold:
    """A report that is believed."""

    kind: Annotated[str, "Always fix."] = "fix"
    time_utc: Annotated[TimeAlone, "By the tracker's own clock, else that of reception."]
    received_utc: Annotated[TimeAlone, "When it was heard."]
    payload: Annotated[str, "Whose tracker it is."]
    tracker: Annotated[str, "The tracker that sent it."]
    source: Annotated[str, "The source that heard it."]
    latitude_deg: Annotated[Latitude, "As it was sent."]
    longitude_deg: Annotated[Longitude, "As it was sent."]
    altitude_m: Annotated[
        Metres | None, "Above mean sea level; null where none was sent.", Named("alt_m")
    ]
    satellites: Annotated[int | None, "How many its receiver used."]
    telemetry: Annotated[Mapping[str, AsSent | None], "What else it sent; the unit is in the name."]


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameTold:
    """What was heard, as it came, for other stations."""

    kind: Annotated[str, "Always frame."] = "frame"
    station: Annotated[str, "The station that heard it."]
    source: Annotated[str, "The source that heard it."]
    receiver: Annotated[str, "The receiver that heard it, where the source says so."]
    received_utc: Annotated[TimeAlone, "When it was heard."]
    data: Annotated[str, "Its bytes in base 64 (RFC 4648, section 4)."]
    sent_utc: Annotated[TimeAlone | None, "When it was sent, as its carrier says.", IfAny()] = None
    retained: Annotated[bool, "Whether a broker had kept it.", IfAny()] = False
    sender: Annotated[str, "Who sent it, as its carrier says.", IfAny()] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StationTold:
    """Whether a station publishes."""

    kind: Annotated[str, "Always station."] = "station"
    station: Annotated[str, "The station's name."]
    up: Annotated[bool, "False is told by the broker where it lost the station."]


LINES: Final = (
    PhaseTold, LandingTold, AlertTold, RejectedTold, FixTold, FrameTold, StationTold
)  # fmt: skip
"""All that is told as lines."""


def phase_json(change: PhaseChange) -> JsonObject:
    """A change of phase: when it was known, and since when it holds."""
    return record_json(
        PhaseTold(
            time_utc=change.time_utc,
            payload=change.payload,
            phase=change.phase,
            since_utc=change.since_utc,
        )
    )


def alert_json(message: Message) -> JsonObject:
    alert, point, moved = message.alert, message.alert.point, message.alert.moved
    return record_json(
        AlertTold(
            time_utc=alert.time_utc,
            payload=alert.payload,
            alert=alert.kind,
            key=alert.key.text,
            title=message.title,
            body=message.body,
            landing=None
            if point is None
            else PointTold(latitude_deg=point.latitude_deg, longitude_deg=point.longitude_deg),
            moved_m=None if moved is None else moved.distance_m,
            bearing_deg=None if moved is None else moved.bearing_deg,
            instruction=message.instruction,
        )
    )


def rejected_json(
    frame: Frame, reason: Reason, detail: str = "", time_utc: float | None = None
) -> JsonObject:
    """``time_utc`` is the verdict's, else the reception's."""
    return record_json(
        RejectedTold(
            time_utc=frame.received_utc if time_utc is None else time_utc,
            reason=reason,
            frame=frame_text(frame.data),
            detail=detail,
            source=frame.source,
        )
    )


def fix_json(fix: Fix) -> JsonObject:
    return record_json(
        FixTold(
            time_utc=fix.time_utc,
            received_utc=fix.received_utc,
            payload=fix.payload,
            tracker=fix.tracker,
            source=fix.source,
            latitude_deg=fix.latitude_deg,
            longitude_deg=fix.longitude_deg,
            altitude_m=fix.altitude_m,
            satellites=fix.satellites,
            telemetry=dict(fix.telemetry),
        )
    )


def frame_json(station: str, heard: Frame) -> JsonObject:
    return record_json(
        FrameTold(
            station=station,
            source=heard.source,
            receiver=heard.receiver,
            received_utc=heard.received_utc,
            data=base64.b64encode(heard.data).decode(),
            sent_utc=heard.sent_utc,
            retained=heard.retained,
            sender=heard.sender,
        )
    )


def station_json(station: str, *, up: bool) -> JsonObject:
    return record_json(StationTold(station=station, up=up))
