"""Topics and the JSON in them; others build on both.

=============================  ========  ===============================================
topic                          retained  message
=============================  ========  ===============================================
PREFIX/PAYLOAD/fix             yes       {"kind": "fix", "time", "received", "payload",
                                         "tracker", "source", "lat", "lon", "alt_m",
                                         "satellites", "telemetry"}
PREFIX/PAYLOAD/phase           yes       as the replay command prints it
PREFIX/PAYLOAD/landing         yes       as the replay command prints it
PREFIX/PAYLOAD/alert           no        as the replay command prints it
PREFIX/frames/STATION          no        {"kind": "frame", "station", "source",
                                         "receiver", "received", "data": base64}
                                         and "sent", "retained", "sender" where they say
                                         something
PREFIX/stations/STATION        yes       {"kind": "station", "station", "up": true or false};
                                         false is told by the broker where it lost us
=============================  ========  ===============================================

Times are ISO 8601 in UTC; what is not known is null. Alerts and frames come at least once: after a
broken connection one may come twice, and says so by its ``key`` or its ``data`` and ``received``.
"""

import base64
from collections.abc import Iterator
from typing import NamedTuple

from groundstation.alert_records import Message
from groundstation.flight.state import FlightState
from groundstation.jsonout import (
    JsonObject,
    alert_json,
    degrees,
    iso_utc,
    line,
    metres,
    phase_json,
)
from groundstation.records import Fix, Frame, PhaseChange
from groundstation.schema.landing import landing_json


class Published(NamedTuple):
    topic: str
    text: str
    retained: bool


def states(prefix: str, state: FlightState) -> Iterator[Published]:
    """What is known of one payload."""
    at = f"{prefix}/{level(state.payload)}"
    if state.last is not None:
        yield Published(f"{at}/fix", line(_fix(state.last)), True)
    if state.since_utc:
        change = PhaseChange(
            payload=state.payload,
            time_utc=state.since_utc,
            phase=state.phase,
            since_utc=state.since_utc,
        )
        yield Published(f"{at}/phase", line(phase_json(change)), True)
    if state.landing is not None:
        yield Published(f"{at}/landing", line(landing_json(state.landing)), True)


def alert(prefix: str, message: Message) -> Published:
    topic = f"{prefix}/{level(message.alert.payload)}/alert"
    return Published(topic, line(alert_json(message)), False)


def frame(prefix: str, station: str, heard: Frame) -> Published:
    message: JsonObject = {
        "kind": "frame",
        "station": station,
        "source": heard.source,
        "receiver": heard.receiver,
        "received": iso_utc(heard.received_utc),
        "data": base64.b64encode(heard.data).decode(),
    }
    if heard.sent_utc is not None:
        message["sent"] = iso_utc(heard.sent_utc)
    if heard.retained:
        message["retained"] = True
    if heard.sender:
        message["sender"] = heard.sender
    return Published(f"{prefix}/frames/{station}", line(message), False)


def standing(prefix: str, station: str, *, up: bool) -> Published:
    """Whether the station publishes: its own word, and its last will."""
    message: JsonObject = {"kind": "station", "station": station, "up": up}
    return Published(f"{prefix}/stations/{station}", line(message), True)


def level(name: str) -> str:
    """A name as one level of a topic (MQTT 5, section 4.7)."""
    return "".join("_" if character in "/+#\0" else character for character in name) or "_"


def _fix(fix: Fix) -> JsonObject:
    return {
        "kind": "fix",
        "time": iso_utc(fix.time_utc),
        "received": iso_utc(fix.received_utc),
        "payload": fix.payload,
        "tracker": fix.tracker,
        "source": fix.source,
        "lat": degrees(fix.latitude_deg),
        "lon": degrees(fix.longitude_deg),
        "alt_m": metres(fix.altitude_m),
        "satellites": fix.satellites,
        "telemetry": dict(fix.telemetry),
    }
