"""What is told, and that it is told once."""

import itertools
from dataclasses import replace

import pytest

from groundstation.flight.settings import (
    AlertSettings,
    FlightSettings,
    PlanSettings,
    TrackerSettings,
)
from groundstation.physics.geodesy import distance_m
from groundstation.records import AlertKind, Phase, Report
from groundstation.simulation.profiles import Profile, settings_of
from groundstation.simulation.simulate import simulate
from tests.support.flights import TRACKER, first_is_quick, fold, reports_of


def planned(descent_rate_ms: float | None = None, **alerts: float) -> FlightSettings:
    return FlightSettings(
        payload="kanalas-1",
        trackers=(TrackerSettings(id=TRACKER),),
        plan=PlanSettings(descent_rate_ms=descent_rate_ms),
        alerts=AlertSettings(**alerts),
        climbing_every_s=600.0,
        estimate_every_s=25.0,
    )


@pytest.mark.parametrize("seed", first_is_quick(1, 2, 3, 4, 5, 6))
def test_a_usual_flight_has_its_usual_alerts(seed: int) -> None:
    flight = simulate(settings_of(Profile.NORMAL, seed))
    told = fold(reports_of(flight), planned())
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
    flight = simulate(settings_of(Profile.NORMAL, seed))
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
    told = fold(reports_of(simulate(settings_of(profile, seed))), planned(6.0))
    assert told.count(kind) == 1
    other = {AlertKind.FALLING_FAST, AlertKind.FALLING_SLOWLY} - {kind}
    assert told.count(other.pop()) == 0


@pytest.mark.parametrize("seed", first_is_quick(1, 2, 3, 4, 5, 6))
def test_a_fall_as_planned_is_not_told(seed: int) -> None:
    settings = replace(settings_of(Profile.NORMAL, seed), descent_rate_ms=6.0)
    told = fold(reports_of(simulate(settings)), planned(6.0))
    assert told.count(AlertKind.FALLING_FAST) == 0
    assert told.count(AlertKind.FALLING_SLOWLY) == 0


@pytest.mark.parametrize("moved_m", first_is_quick(2_000.0, 500.0, 8_000.0))
def test_a_moved_point_is_told_by_the_distance_the_person_sets(moved_m: float) -> None:
    flight = simulate(settings_of(Profile.NORMAL, 4))
    told = fold(reports_of(flight), planned(moved_m=moved_m, moved_share=0.0, moved_every_s=0.0))
    points = [
        alert.landing
        for alert in told.alerts
        if alert.kind is AlertKind.LANDING_MOVED and alert.landing is not None
    ]
    falling = [point for point in points if point.phase is Phase.DESCENT]
    for older, newer in itertools.pairwise(falling):
        assert (
            distance_m(
                older.latitude_deg, older.longitude_deg, newer.latitude_deg, newer.longitude_deg
            )
            >= moved_m
        )
    if moved_m == 500.0:
        assert len(falling) >= 2
    # Nothing that moved farther is left untold.
    last_told = (
        falling[-1] if falling else next(one for one in told.landings if one.phase is Phase.DESCENT)
    )
    for one in told.landings:
        if one.phase is Phase.DESCENT and one.time_utc > last_told.time_utc:
            assert (
                distance_m(
                    last_told.latitude_deg,
                    last_told.longitude_deg,
                    one.latitude_deg,
                    one.longitude_deg,
                )
                < moved_m
            )


@pytest.mark.slow
def test_a_large_region_keeps_small_moves_quiet() -> None:
    flight = simulate(settings_of(Profile.NORMAL, 4))
    often = fold(reports_of(flight), planned(moved_m=300.0, moved_share=0.0, moved_every_s=0.0))
    rarely = fold(reports_of(flight), planned(moved_m=300.0, moved_share=3.0, moved_every_s=0.0))
    assert rarely.count(AlertKind.LANDING_MOVED) < often.count(AlertKind.LANDING_MOVED)


@pytest.mark.slow
def test_carried_off_after_the_landing() -> None:
    flight = simulate(settings_of(Profile.NORMAL, 2))
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
