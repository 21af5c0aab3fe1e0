"""What is told, and that it is told once."""

import math
from dataclasses import replace
from functools import cache

import pytest

from groundstation.flight.instruct import place_of
from groundstation.flight.settings import (
    AlertSettings,
    FlightSettings,
    PlanSettings,
    TrackerSettings,
)
from groundstation.records import AlertKind, Phase, Place, Report
from groundstation.simulation.profiles import Profile, settings_of
from tests.support.flights import TRACKER, Told, first_is_quick, fold, reports_of, simulated


def planned(descent_rate_ms: float | None = None, **alerts: float) -> FlightSettings:
    return FlightSettings(
        payload="kanalas-1",
        trackers=(TrackerSettings(id=TRACKER),),
        plan=PlanSettings(descent_rate_ms=descent_rate_ms),
        alerts=AlertSettings(**alerts),
        climbing_every_s=600.0,
        estimate_every_s=25.0,
    )


@cache
def flown(profile: Profile, seed: int) -> Told:
    """With nothing planned; several tests look at the same flight."""
    return fold(reports_of(simulated(settings_of(profile, seed))), planned())


@pytest.mark.parametrize("seed", first_is_quick(1, 2, 3, 4, 5, 6))
def test_a_usual_flight_has_its_usual_alerts(seed: int) -> None:
    told = flown(Profile.NORMAL, seed)
    assert told.count(AlertKind.LAUNCHED) == 1
    assert told.count(AlertKind.BURST) == 1
    assert told.count(AlertKind.TOUCHDOWN_SOON) == 1
    assert told.count(AlertKind.LANDED) <= 1
    assert told.count(AlertKind.FLOATING) == 0
    assert told.count(AlertKind.FALLING_SLOWLY) == 0
    assert told.count(AlertKind.MOVED_AFTER_LANDING) == 0
    assert len({alert.key for alert in told.alerts}) == len(told.alerts)


@pytest.mark.parametrize("seed", first_is_quick(1, 2, 3, 4))
def test_touchdown_soon_comes_soon(seed: int) -> None:
    flight = simulated(settings_of(Profile.NORMAL, seed))
    told = fold(reports_of(flight), planned(touchdown_soon_s=600.0))
    [at] = told.times(AlertKind.TOUCHDOWN_SOON)
    assert 400.0 <= flight.truth.touchdown_utc - at <= 800.0


@pytest.mark.slow
@pytest.mark.parametrize(
    ("profile", "kind"),
    [(Profile.FOULED, AlertKind.FALLING_FAST), (Profile.SLOW, AlertKind.FALLING_SLOWLY)],
)
@pytest.mark.parametrize("seed", first_is_quick(1, 2, 3, 4, 5, 6))
def test_a_fall_that_is_not_as_planned_is_told(
    profile: Profile, kind: AlertKind, seed: int
) -> None:
    told = fold(reports_of(simulated(settings_of(profile, seed))), planned(6.0))
    assert told.count(kind) == 1
    other = {AlertKind.FALLING_FAST, AlertKind.FALLING_SLOWLY} - {kind}
    assert told.count(other.pop()) == 0


@pytest.mark.parametrize("seed", first_is_quick(1, 2, 3, 4, 5, 6))
def test_a_fall_as_planned_is_not_told(seed: int) -> None:
    settings = replace(settings_of(Profile.NORMAL, seed), descent_rate_ms=6.0)
    told = fold(reports_of(simulated(settings)), planned(6.0))
    assert told.count(AlertKind.FALLING_FAST) == 0
    assert told.count(AlertKind.FALLING_SLOWLY) == 0


@pytest.mark.parametrize("moved_m", first_is_quick(2_000.0, 500.0, 8_000.0))
def test_a_moved_point_is_told_by_the_distance_the_person_sets(moved_m: float) -> None:
    flight = simulated(settings_of(Profile.NORMAL, 4))
    told = fold(reports_of(flight), planned(moved_m=moved_m, moved_share=0.0, moved_every_s=0.0))
    said: Place | None = None
    for alert in told.alerts:
        if alert.kind is AlertKind.LANDING_MOVED and alert.phase is Phase.DESCENT and said:
            assert alert.moved is not None
            assert alert.moved.distance_m > moved_m
        said = alert.point or said
    assert said is not None
    if moved_m == 500.0:
        assert told.count(AlertKind.LANDING_MOVED) >= 2
    # Nothing that moved farther is left untold.
    falling = [one for one in told.landings if one.phase is Phase.DESCENT]
    left = apart_m(said, place_of(falling[-1]))
    assert left <= moved_m


@pytest.mark.parametrize("profile", [Profile.NORMAL, Profile.FOULED])
@pytest.mark.parametrize("seed", first_is_quick(1, 2, 3))
def test_a_move_is_told_from_the_point_that_was_told_last(profile: Profile, seed: int) -> None:
    """In whatever alert; distance and bearing by the haversine formula of R. W. Sinnott (1984)."""
    told = flown(profile, seed)
    said: Place | None = None
    for alert in told.alerts:
        if alert.point is not None:
            assert (alert.moved is None) == (said is None)
            if said is not None and alert.moved is not None:
                assert alert.moved.distance_m == pytest.approx(apart_m(said, alert.point), rel=0.01)
            said = alert.point


@pytest.mark.parametrize("seed", first_is_quick(1, 2, 3))
def test_the_burst_is_told_with_the_estimate_of_the_fix_that_told_it(seed: int) -> None:
    told = flown(Profile.NORMAL, seed)
    [burst] = [one for one in told.alerts if one.kind is AlertKind.BURST]
    assert burst.landing is not None
    assert burst.landing.phase is Phase.DESCENT
    assert burst.fix is not None
    assert burst.landing.evidence_utc == burst.fix.time_utc


def test_a_burst_without_an_estimate_is_told_after_a_second_and_tells_no_point() -> None:
    flight = simulated(settings_of(Profile.NORMAL, 2))
    told = fold(reports_of(flight), planned(), estimates=False)
    [burst] = [one for one in told.alerts if one.kind is AlertKind.BURST]
    assert burst.point is None
    assert burst.instruction is not None
    assert burst.instruction.where is None
    [change] = [one for one in told.phases if one.phase is Phase.DESCENT]
    assert 1.0 <= burst.time_utc - change.time_utc < 2.0


@pytest.mark.parametrize("seed", first_is_quick(1, 2, 3, 4))
def test_in_the_fall_nobody_is_left_with_an_old_point(seed: int) -> None:
    """For more than three minutes the point last told is never further off than max(2 km, the
    radius of the 50 % region)."""
    told = flown(Profile.NORMAL, seed)
    points = [(one.time_utc, one.point) for one in told.alerts if one.point is not None]
    since: float | None = None
    for landing in told.landings:
        if landing.phase is not Phase.DESCENT:
            continue
        said = [point for at, point in points if at <= landing.time_utc][-1]
        off = apart_m(said, place_of(landing))
        if off <= max(2_000.0, landing.radius_50_m):
            since = None
        else:
            since = since or landing.time_utc
            assert landing.time_utc - since <= 180.0


def apart_m(a: Place, b: Place) -> float:
    lat_a, lat_b = math.radians(a.latitude_deg), math.radians(b.latitude_deg)
    dlon = math.radians(b.longitude_deg - a.longitude_deg)
    h = math.sin((lat_b - lat_a) / 2) ** 2
    h += math.cos(lat_a) * math.cos(lat_b) * math.sin(dlon / 2) ** 2
    return 2 * 6_371_000.0 * math.asin(math.sqrt(h))


@pytest.mark.slow
def test_a_large_region_keeps_small_moves_quiet() -> None:
    flight = simulated(settings_of(Profile.NORMAL, 4))
    often = fold(reports_of(flight), planned(moved_m=300.0, moved_share=0.0, moved_every_s=0.0))
    rarely = fold(reports_of(flight), planned(moved_m=300.0, moved_share=3.0, moved_every_s=0.0))
    assert rarely.count(AlertKind.LANDING_MOVED) < often.count(AlertKind.LANDING_MOVED)


@pytest.mark.slow
def test_carried_off_after_the_landing() -> None:
    flight = simulated(settings_of(Profile.NORMAL, 2))
    reports = reports_of(flight)
    at, down = reports[-1]
    away = [
        (
            at + 60.0 * n,
            replace(
                down,
                time_utc=at + 60.0 * n,
                longitude_deg=down.longitude_deg + 0.004 * max(0, n - 2),
            ),
        )
        for n in range(1, 8)
    ]
    quiet = fold([*reports, *away[:2]], planned())
    assert quiet.count(AlertKind.LANDED) == 1
    assert quiet.count(AlertKind.MOVED_AFTER_LANDING) == 0
    told = fold([*reports, *away], planned())
    assert told.count(AlertKind.MOVED_AFTER_LANDING) == 1
    [moved] = told.times(AlertKind.MOVED_AFTER_LANDING)
    # By two fixes in a row, so that one bad fix is no thief.
    assert moved == away[3][0]
    one_bad = fold([*reports, away[0], away[4], _back(away[5], down)], planned())
    assert one_bad.count(AlertKind.MOVED_AFTER_LANDING) == 0


def _back(moment: tuple[float, Report], down: Report) -> tuple[float, Report]:
    return moment[0], replace(down, time_utc=moment[0])
