"""A flight held against its plan: climb, burst and landing."""

from dataclasses import replace

import pytest

from groundstation.alerts.wording import WordingSettings, render
from groundstation.flight.alert_records import Burst, ClimbingFast, ClimbingSlowly, OffPlan
from groundstation.flight.settings import (
    FlightSettings,
    PlannedLanding,
    PlanSettings,
    TrackerSettings,
)
from groundstation.physics.geodesy import Plane, distance_m
from groundstation.records import AlertKind
from groundstation.simulation.profiles import Profile, settings_of
from tests.support.flights import T0, TRACKER, first_is_quick, fold, report, reports_of, simulated

pytestmark = pytest.mark.slow

PLAN = PlanSettings(
    burst_altitude_m=30_000.0,
    burst_altitude_sd_m=1_500.0,
    ascent_rate_ms=5.0,
    ascent_rate_sd_ms=0.4,
    descent_rate_ms=6.0,
)
CLIMB = (AlertKind.CLIMBING_FAST, AlertKind.CLIMBING_SLOWLY)


def planned(plan: PlanSettings) -> FlightSettings:
    return FlightSettings(
        payload="kanalas-1",
        trackers=(TrackerSettings(id=TRACKER),),
        plan=plan,
        climbing_every_s=600.0,
        estimate_every_s=25.0,
    )


@pytest.mark.parametrize("seed", first_is_quick(1, 2, 3, 4))
def test_a_landing_as_forecast_is_not_told_and_another_is_told_once(seed: int) -> None:
    flight = simulated(settings_of(Profile.NORMAL, seed))
    reports = reports_of(flight)
    lat, lon = flight.truth.landing
    plan = replace(PLAN, descent_rate_ms=flight.truth.descent_rate_ms)
    there = PlannedLanding(latitude_deg=lat, longitude_deg=lon, radius_90_m=8_000.0)
    assert fold(reports, planned(replace(plan, landing=there))).count(AlertKind.OFF_PLAN) == 0

    far_lat, far_lon = Plane(lat, lon).to_latlon(60_000.0, 0.0)
    elsewhere = replace(there, latitude_deg=float(far_lat), longitude_deg=float(far_lon))
    told = fold(reports, planned(replace(plan, landing=elsewhere)))
    [alert] = [one for one in told.alerts if one.kind is AlertKind.OFF_PLAN]
    assert alert.landing is not None
    off = distance_m(
        elsewhere.latitude_deg, elsewhere.longitude_deg,
        alert.landing.latitude_deg, alert.landing.longitude_deg,
    )  # fmt: skip
    assert isinstance(alert.facts, OffPlan)
    assert alert.facts.off_m == pytest.approx(off, rel=1e-4)
    assert off > 8_000.0
    settings = WordingSettings(planned={"kanalas-1": elsewhere})
    message = render(alert, settings)
    assert "of the plan" in message.title
    [burst] = [one for one in told.alerts if one.kind is AlertKind.BURST]
    assert "of the planned landing" in render(burst, settings).body


@pytest.mark.parametrize(
    ("rate_ms", "kinds"),
    [(5.0, ()), (7.5, (AlertKind.CLIMBING_FAST,)), (2.5, (AlertKind.CLIMBING_SLOWLY,))],
)
def test_a_climb_unlike_the_plan_is_told_once(rate_ms: float, kinds: tuple[AlertKind, ...]) -> None:
    settings = settings_of(Profile.NORMAL, 3)
    settings = replace(settings, ascent_rate_ms=rate_ms)
    told = fold(reports_of(simulated(settings)), planned(PLAN))
    assert tuple(one.kind for one in told.alerts if one.kind in CLIMB) == kinds
    for one in told.alerts:
        if one.kind in CLIMB:
            assert isinstance(one.facts, ClimbingFast | ClimbingSlowly)
            assert one.facts.ascent_rate_ms == pytest.approx(rate_ms, rel=0.15)
            assert one.facts.planned_ms == 5.0


def test_a_climb_as_planned_from_a_high_meadow_is_as_planned() -> None:
    """What counts is how far it has climbed, not how high it is."""
    waits = [(T0 + 20.0 * n, report(20.0 * n, 1_800.0)) for n in range(10)]
    climbs = [
        (T0 + 200.0 + 20.0 * n, report(200.0 + 20.0 * n, 1_800.0 + 100.0 * n, lon=20.3 + n / 1e3))
        for n in range(60)
    ]
    told = fold([*waits, *climbs], planned(PLAN), estimates=False)
    assert told.count(AlertKind.LAUNCHED) == 1
    assert [one for one in told.alerts if one.kind in CLIMB] == []


def test_without_a_plan_nothing_is_held_against_one() -> None:
    settings = replace(settings_of(Profile.NORMAL, 3), ascent_rate_ms=2.5)
    told = fold(reports_of(simulated(settings)), planned(PlanSettings()))
    assert [one for one in told.alerts if one.kind in (*CLIMB, AlertKind.OFF_PLAN)] == []
    [burst] = [one for one in told.alerts if one.kind is AlertKind.BURST]
    assert isinstance(burst.facts, Burst)
    assert burst.facts.planned_m is None
    assert "Planned" not in render(burst, WordingSettings()).body


def test_the_burst_is_told_beside_its_plan() -> None:
    told = fold(reports_of(simulated(settings_of(Profile.NORMAL, 3))), planned(PLAN))
    [burst] = [one for one in told.alerts if one.kind is AlertKind.BURST]
    assert "Planned was 30.0 km." in render(burst, WordingSettings()).body
