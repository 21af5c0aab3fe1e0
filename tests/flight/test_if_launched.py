"""Where it would land if it were launched as planned, before anything is heard of it."""

import asyncio
from dataclasses import replace

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from groundstation.clock import RehearsalClock
from groundstation.config import flight_settings, load
from groundstation.flight.flights import Flights
from groundstation.flight.if_launched import if_launched
from groundstation.flight.settings import FlightSettings, PlanSettings, TrackerSettings
from groundstation.physics.geodesy import distance_m
from groundstation.physics.wind import WindsAloft
from groundstation.records import Phase, Place
from groundstation.simulation.profiles import Profile, settings_of
from groundstation.station.before_launch import EARLY_S, LATE_S, BeforeLaunch, launch_at
from tests.support.flights import simulated

LAUNCH = 1_778_920_200.0
SITE = Place(latitude_deg=47.10, longitude_deg=20.30, altitude_m=85.0)


def steady(east_ms: float) -> WindsAloft:
    heights = np.array([0.0, 45_000.0])
    return WindsAloft.of("a steady wind", heights, np.full(2, east_ms), np.zeros(2), 0.5)


def test_a_steady_wind_carries_it_for_as_long_as_it_flies() -> None:
    """By hand: the way is the wind times the time, whatever the climb and the fall."""
    settings = FlightSettings(
        payload="k",
        trackers=(TrackerSettings(id="*"),),
        plan=PlanSettings(burst_altitude_m=30_000.0, ascent_rate_ms=5.0, descent_rate_ms=5.0),
        aloft=steady(10.0),
        launch_utc=LAUNCH,
        launch_site=SITE,
    )
    landing = if_launched(settings, LAUNCH, LAUNCH - 3_600.0)
    assert landing is not None
    flown_s = landing.eta_utc - LAUNCH
    # 30 km at 5 m/s up; down under a parachute of 5 m/s it takes 35 to 45 min (Knacke).
    assert 6_000.0 + 1_800.0 < flown_s < 6_000.0 + 3_000.0
    there = Geodesic.WGS84.Inverse(47.10, 20.30, landing.latitude_deg, landing.longitude_deg)
    assert there["s12"] == pytest.approx(10.0 * flown_s, rel=0.05)
    assert there["azi1"] == pytest.approx(90.0, abs=3.0)
    assert landing.phase is Phase.PRELAUNCH
    assert landing.time_utc == LAUNCH - 3_600.0
    assert if_launched(replace(settings, launch_site=None), LAUNCH, LAUNCH) is None


def test_the_bundled_flight_lands_in_its_region() -> None:
    [settings] = flight_settings(load(None, {}, "messenger"), LAUNCH)
    assert settings.launch_utc == LAUNCH
    landing = if_launched(settings, LAUNCH, LAUNCH - 3_600.0)
    assert landing is not None
    lat, lon = simulated(settings_of(Profile.MESSENGER, 8)).truth.landing
    off_m = distance_m(lat, lon, landing.latitude_deg, landing.longitude_deg)
    assert off_m < landing.radius_90_m
    # The planner's own ensemble, made in another way, has its point near by.
    planned = settings.plan.landing
    assert planned is not None
    apart_m = distance_m(
        planned.latitude_deg, planned.longitude_deg, landing.latitude_deg, landing.longitude_deg
    )
    assert apart_m < 0.3 * landing.radius_50_m
    assert "nothing is flown yet" in landing.basis


@pytest.mark.parametrize(
    ("now", "asked"),
    [
        (LAUNCH - 3_600.0, LAUNCH),
        (LAUNCH + 60.0, LAUNCH + 600.0),
        (LAUNCH - EARLY_S - 1.0, None),
        (LAUNCH + LATE_S + 1.0, None),
    ],
)
def test_who_is_late_is_told_of_the_next_ten_minutes(now: float, asked: float | None) -> None:
    settings = FlightSettings(
        payload="k", trackers=(TrackerSettings(id="*"),), launch_utc=LAUNCH, launch_site=SITE
    )
    assert launch_at(settings, now) == asked
    assert launch_at(replace(settings, launch_utc=None), now) is None


async def test_it_is_there_until_it_flies() -> None:
    settings = FlightSettings(
        payload="k", trackers=(TrackerSettings(id="*"),), launch_utc=LAUNCH, launch_site=SITE
    )
    flights = Flights([settings])
    before = BeforeLaunch(flights, RehearsalClock(LAUNCH - 600.0, 1e-6))
    assert before.landing("k") is None
    task = asyncio.create_task(before.run())
    while before.landing("k") is None:  # noqa: ASYNC110
        await asyncio.sleep(0.01)
    made = before.landing("k")
    assert made is not None
    assert made[0] == LAUNCH
    state = flights.state("k")
    flights.resume([replace(state, motion=replace(state.motion, phase=Phase.ASCENT))])
    assert before.landing("k") is None
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
