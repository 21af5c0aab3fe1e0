"""An invented moment of an invented flight, for the page to show.

The Pusztaszél Balloon Circle and its payload kanalas-1 (a spoonbill) do not exist, and no ITU
prefix begins with Q.
"""

import math
from dataclasses import replace

from groundstation.flight.settings import BaseSettings, PlannedLanding
from groundstation.flight.state import Burst
from groundstation.records import Fix, Landing, Phase, Reason, Ring
from groundstation.web.snapshot import (
    Counts,
    MessageSnapshot,
    PayloadSnapshot,
    SourceSnapshot,
    SourceState,
    StationSnapshot,
    TargetSnapshot,
)

NOW_UTC = 1_782_034_200.0  # 2026-06-21T09:30:00Z, 11:30 in Budapest
BASE = BaseSettings(latitude_deg=47.10, longitude_deg=20.30, altitude_m=85.0)


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

FALLING = PayloadSnapshot(
    payload="kanalas-1",
    phase=Phase.DESCENT,
    since_utc=NOW_UTC - 1_560.0,
    last=fix(),
    rate_ms=-11.4,
    landing=LANDING,
    launch=fix(time_utc=NOW_UTC - 7_320.0, latitude_deg=47.1, longitude_deg=20.3, altitude_m=85.0),
    burst=Burst(time_utc=NOW_UTC - 1_560.0, altitude_m=30_412.0),
    expected_burst_m=30_000.0,
    planned=PlannedLanding(latitude_deg=47.31, longitude_deg=20.76, radius_90_m=9_000.0),
    last_distance_m=29_700.0,
    last_bearing_deg=64.8,
    landing_distance_m=42_460.0,
    landing_bearing_deg=66.0,
)

SOURCES = (
    SourceSnapshot(
        name="mast",
        kind="serial port, KISS",
        state=SourceState.RUNNING,
        since_utc=NOW_UTC - 8_000.0,
        frames=1_234,
        last_frame_utc=NOW_UTC - 14.0,
    ),
    SourceSnapshot(
        name="club",
        kind="TCP lines",
        state=SourceState.WAITING,
        since_utc=NOW_UTC - 95.0,
        frames=310,
        last_frame_utc=NOW_UTC - 120.0,
        failures=4,
        last_error="connection refused by 127.0.0.1:14580",
        next_try_s=12.0,
    ),
)

TARGETS = (
    TargetSnapshot(
        name="telephone", kind="push", delivered=4, last_delivered_utc=NOW_UTC - 1_500.0
    ),
    TargetSnapshot(
        name="mail",
        kind="SMTP",
        waiting=1,
        delivered=3,
        failures=2,
        oldest_waiting_utc=NOW_UTC - 140.0,
        last_error="server said 451 try later",
        next_try_s=30.0,
    ),
)

MESSAGES = (
    MessageSnapshot(
        time_utc=NOW_UTC - 140.0,
        kind="landing-moved",
        title="kanalas-1: landing moved 2.4 km",
        body="Now 47.25432, 20.81235, 42.5 km ENE of base. Down about 11:48.",
        key="kanalas-1/landing-moved/2",
    ),
    MessageSnapshot(
        time_utc=NOW_UTC - 1_500.0,
        kind="burst",
        title="kanalas-1: burst at 30,412 m",
        body="Falling since 11:04. Landing estimated 47.241, 20.784.",
        key="kanalas-1/burst/1",
    ),
)

STATION = StationSnapshot(
    now_utc=NOW_UTC,
    started_utc=NOW_UTC - 9_000.0,
    station="Pusztaszél Balloon Circle",
    timezone="Europe/Budapest",
    base=BASE,
    payloads=(FALLING,),
    sources=SOURCES,
    targets=TARGETS,
    counts=Counts(
        frames=1_544,
        fixes=702,
        rejected={Reason.NO_POSITION: 31, Reason.DUPLICATE: 810, Reason.JUMP: 1},
    ),
    messages=MESSAGES,
    problems=("The source club does not answer: see whether the network at base is up.",),
)
