"""An invented moment of an invented flight, for the page to show.

The Pusztaszél Balloon Circle and its payload kanalas-1 (a spoonbill) do not exist, and no ITU
prefix begins with Q.
"""

import math
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import mkdtemp
from types import SimpleNamespace
from typing import Any, cast

from groundstation.config import StationSettings, flight_settings, load, wording_settings
from groundstation.flight import alert_records
from groundstation.flight.alert_records import Alert, AlertKey, Facts, LandingMoved, Message
from groundstation.flight.flights import Flights
from groundstation.flight.state import Burst, FlightState, Motion
from groundstation.flight.track import Point, Track
from groundstation.records import Fix, Landing, Phase, Reason, Ring
from groundstation.sources.health import SourceHealth, SourceState
from groundstation.station.core import Core
from groundstation.station.overview import Overview
from groundstation.store.outbox import TargetFigures
from groundstation.web.payload_snapshot import LandingSnapshot, LastFix, PayloadSnapshot
from groundstation.web.snapshot import StationSnapshot

NOW_UTC = 1_782_034_200.0  # 2026-06-21T09:30:00Z, 11:30 in Budapest
CONFIGURATION = """
[station]
name = "Pusztaszél Balloon Circle"
data_dir = "{folder}"
timezone = "Europe/Budapest"
[base]
latitude_deg = 47.10
longitude_deg = 20.30
altitude_m = 85.0
[[payload]]
name = "kanalas-1"
[[payload.tracker]]
id = "Q0HAB-11"
[payload.plan]
burst_altitude_m = 30000
[payload.plan.landing]
latitude_deg = 47.31
longitude_deg = 20.76
radius_90_m = 9000.0
[[source]]
name = "mast"
kind = "tcp"
host = "127.0.0.1"
port = 9
decoder.kind = "aprs"
[[target]]
name = "telephone"
kind = "terminal"
[[target]]
name = "mail"
kind = "terminal"
"""


def ellipse(lat: float, lon: float, east_m: float, north_m: float) -> Ring:
    """A ring about a point, counter-clockwise, first corner at east."""
    corners = [
        (
            lat + north_m * math.sin(turn) / 111_195,
            lon + east_m * math.cos(turn) / (111_195 * math.cos(math.radians(lat))),
        )
        for turn in (2 * math.pi * k / 40 for k in range(40))
    ]
    return (*corners, corners[0])


def fix(**changes: object) -> Fix:
    known = Fix(
        payload="kanalas-1",
        tracker="Q0HAB-11",
        source="mast",
        time_utc=NOW_UTC - 15.0,
        received_utc=NOW_UTC - 14.0,
        latitude_deg=47.213456,
        longitude_deg=20.654321,
        altitude_m=12_345.6,
        satellites=9,
        telemetry=(("battery_v", 3.71), ("temperature_k", 243.15)),
    )
    return replace(known, **changes)  # type: ignore[arg-type]


LANDING = Landing(
    payload="kanalas-1",
    time_utc=NOW_UTC - 12.0,
    evidence_utc=NOW_UTC - 15.0,
    phase=Phase.DESCENT,
    latitude_deg=47.254321,
    longitude_deg=20.812345,
    ground_m=86.0,
    eta_utc=NOW_UTC + 1_080.0,
    eta_90_utc=(NOW_UTC + 900.0, NOW_UTC + 1_320.0),
    descent_rate_ms=5.2,
    region_50=(ellipse(47.254, 20.812, 1_600.0, 900.0),),
    region_90=(ellipse(47.255, 20.815, 3_900.0, 2_100.0),),
    radius_50_m=1_210.0,
    radius_90_m=2_930.0,
    basis="winds of the ascent, fall rate of the last 9 km",
)


def last_fix(**changes: object) -> LastFix:
    """As the overview tells it."""
    return LastFix.of(fix(**changes), SETTINGS.base, ground_m=LANDING.ground_m)


def landing(**changes: object) -> LandingSnapshot:
    return LandingSnapshot.from_(replace(LANDING, **changes), SETTINGS.base)  # type: ignore[arg-type]


def _settings() -> StationSettings:
    folder = Path(mkdtemp(prefix="scenario-"))
    file = folder / "station.toml"
    file.write_text(CONFIGURATION.format(folder=folder))
    return load(file, {})


SETTINGS = _settings()

TRACK = tuple(
    Point(NOW_UTC - 7_320.0 + t, 47.1 + 1.6e-5 * t, 20.3 + 4.8e-5 * t, height)
    for t, height in (
        *((t, 85.0 + 5.25 * t) for t in range(0, 5_760, 30)),
        *((t, 30_412.0 - 11.7064 * (t - 5_760)) for t in range(5_760, 7_300, 10)),
    )
)

STATE = FlightState(
    payload="kanalas-1",
    now_utc=NOW_UTC,
    motion=Motion(
        phase=Phase.DESCENT,
        since_utc=NOW_UTC - 1_560.0,
        last=fix(),
        launch=fix(
            time_utc=NOW_UTC - 7_320.0, latitude_deg=47.1, longitude_deg=20.3, altitude_m=85.0
        ),
        burst=Burst(time_utc=NOW_UTC - 1_560.0, altitude_m=30_412.0),
        track=Track(
            TRACK, Point(NOW_UTC - 15.0, fix().latitude_deg, fix().longitude_deg, 12_345.6)
        ),
    ),
    landing=LANDING,
)

SOURCES = (
    SourceHealth(
        name="mast",
        kind="serial port, KISS",
        state=SourceState.RECEIVING,
        since_utc=NOW_UTC - 8_000.0,
        frames=1_234,
        last_frame_utc=NOW_UTC - 14.0,
        failures=0,
        last_error="",
        next_try_s=None,
    ),
    SourceHealth(
        name="club",
        kind="TCP lines",
        state=SourceState.RETRYING,
        since_utc=NOW_UTC - 95.0,
        frames=310,
        last_frame_utc=NOW_UTC - 120.0,
        failures=4,
        last_error="127.0.0.1:14580 refuses the connection.",
        next_try_s=12.0,
    ),
)

OUTBOX = (
    TargetFigures(
        target="telephone", pending=0, delivered=4, expired=0, superseded=0, unwanted=0, failed=0,
        uncertain=0, last_error="", last_delivered_utc=NOW_UTC - 1_500.0,
    ),
    TargetFigures(
        target="mail", pending=1, delivered=3, expired=0, superseded=0, unwanted=0, failed=0,
        uncertain=0, last_error="The server said 451, try later.",
        last_delivered_utc=NOW_UTC - 1_490.0, oldest_waiting_utc=NOW_UTC - 140.0,
        next_try_utc=NOW_UTC + 30.0,
    ),
)  # fmt: skip


def _message(ago_s: float, facts: Facts, title: str, body: str, occasion: str) -> Message:
    key = AlertKey(payload="kanalas-1", begun_utc=None, kind=facts.kind, occasion=occasion)
    alert = Alert(key=key, time_utc=NOW_UTC - ago_s, phase=Phase.DESCENT, facts=facts)
    return Message(alert=alert, title=title, body=body)


MESSAGES = (
    _message(
        140.0,
        LandingMoved(),
        "kanalas-1: landing moved 2.4 km",
        "Now 47.25432, 20.81235, 42.5 km ENE of base. Down about 11:48.",
        "2",
    ),
    _message(
        1_500.0,
        alert_records.Burst(altitude_m=30_412.0),
        "kanalas-1: burst at 30,412 m",
        "Descending since 11:04. Landing estimated 47.241, 20.784.",
        "1",
    ),
)


@dataclass
class HeldClock:
    """Always the same moment."""

    speed: float = 1.0
    rehearsal: bool = False

    def now_utc(self) -> float:
        return NOW_UTC

    def monotonic_s(self) -> float:
        return 0.0

    def is_kept(self) -> bool:
        return True


def _core(flights: Flights, clock: HeldClock, settings: StationSettings) -> Core:
    """A station's core as it stands at one moment, with a disk that takes everything."""
    disk = SimpleNamespace(next_seq=0, standing=SimpleNamespace(waiting=0, trouble=""))
    made = Core.of(
        flights=flights,
        decoders={},
        store=cast(Any, disk),
        wording=wording_settings(settings),
        clock=cast(Any, clock),
    )
    made.pipeline.frames, made.pipeline.fixes = 1_544, 702
    made.pipeline.rejected.update({Reason.NO_POSITION: 31, Reason.DUPLICATE: 810, Reason.JUMP: 1})
    made.telling.messages.extend(reversed(MESSAGES))
    return made


def station(
    state: FlightState = STATE,
    *,
    sources: Collection[SourceHealth] = SOURCES,
    outbox: Collection[TargetFigures] = OUTBOX,
    settings: StationSettings = SETTINGS,
    clock: HeldClock | None = None,
) -> StationSnapshot:
    """What the station's own overview makes of such a flight."""
    flights = Flights(flight_settings(settings, NOW_UTC), settings.vehicle)
    cast(Any, flights)._states[state.payload] = state
    clock = clock or HeldClock()
    core = _core(flights, clock, settings)
    health: dict[str, Any] = {one.name: SimpleNamespace(snapshot=_always(one)) for one in sources}
    overview = Overview(
        settings, cast(Any, clock), core, health,
        real_utc=lambda: NOW_UTC,
    )  # fmt: skip
    overview.outbox = tuple(outbox)
    made = overview.snapshot()
    return replace(made, started_utc=NOW_UTC - 9_000.0)


def _always(one: SourceHealth) -> Callable[[], SourceHealth]:
    return lambda: one


STATION = station()
FALLING = STATION.payloads[0]
NOTHING_HEARD = station(FlightState(payload="kanalas-1")).payloads[0]


def in_phase(phase: Phase) -> PayloadSnapshot:
    """What the overview makes of the flight in another phase."""
    return station(replace(STATE, motion=replace(STATE.motion, phase=phase))).payloads[0]
