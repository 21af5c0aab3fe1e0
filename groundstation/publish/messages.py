"""Topics and the JSON in them; others build on both.

=============================  ========  ===================================================
topic                          retained  message, a record of ``schema/``
=============================  ========  ===================================================
PREFIX/PAYLOAD/fix             yes       ``FixTold``
PREFIX/PAYLOAD/phase           yes       ``PhaseTold``, as the replay command prints it
PREFIX/PAYLOAD/landing         yes       ``LandingTold``, as the replay command prints it
PREFIX/PAYLOAD/alert           no        ``AlertTold``, as the replay command prints it
PREFIX/frames/STATION          no        ``FrameTold``
PREFIX/stations/STATION        yes       ``StationTold``
=============================  ========  ===================================================

Times are ISO 8601 in UTC; what is not known is null. Alerts and frames come at least once: after a
broken connection one may come twice, and says so by its ``key`` or its ``data`` and ``received``.
"""

from collections.abc import Iterator
from typing import NamedTuple

from groundstation.flight.alert_records import Message
from groundstation.flight.state import FlightState
from groundstation.jsonout import line
from groundstation.records import Frame, PhaseChange
from groundstation.schema.landing import landing_json
from groundstation.schema.lines import (
    alert_json,
    fix_json,
    frame_json,
    phase_json,
    station_json,
)


class Published(NamedTuple):
    topic: str
    text: str
    retained: bool


def states(prefix: str, state: FlightState) -> Iterator[Published]:
    """What is known of one payload."""
    at = f"{prefix}/{level(state.payload)}"
    if state.motion.last is not None:
        yield Published(f"{at}/fix", line(fix_json(state.motion.last)), True)
    if state.motion.since_utc:
        change = PhaseChange(
            payload=state.payload,
            time_utc=state.motion.since_utc,
            phase=state.motion.phase,
            since_utc=state.motion.since_utc,
        )
        yield Published(f"{at}/phase", line(phase_json(change)), True)
    if state.landing is not None:
        yield Published(f"{at}/landing", line(landing_json(state.landing)), True)


def alert(prefix: str, message: Message) -> Published:
    topic = f"{prefix}/{level(message.alert.payload)}/alert"
    return Published(topic, line(alert_json(message)), False)


def frame(prefix: str, station: str, heard: Frame) -> Published:
    return Published(f"{prefix}/frames/{station}", line(frame_json(station, heard)), False)


def standing(prefix: str, station: str, *, up: bool) -> Published:
    """Whether the station publishes: its own word, and its last will."""
    return Published(f"{prefix}/stations/{station}", line(station_json(station, up=up)), True)


def level(name: str) -> str:
    """A name as one level of a topic (MQTT 5, section 4.7)."""
    return "".join("_" if character in "/+#\0" else character for character in name) or "_"
