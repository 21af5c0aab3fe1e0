"""A messenger without heights that is on all day: the drive out, the flight, the drive home
(simulated, invented)."""

from dataclasses import replace

import numpy as np
import pytest

from groundstation.flight.settings import (
    BaseSettings,
    FlightSettings,
    PlanSettings,
    TrackerKind,
    TrackerSettings,
)
from groundstation.physics.geodesy import Plane
from groundstation.physics.wind import WindsAloft, measured_profile
from groundstation.records import Place, Report
from groundstation.simulation.randomness import Stream, stream
from groundstation.simulation.season import Season, heard_of
from groundstation.simulation.settings import HOME, LAUNCH_UTC, Site
from groundstation.simulation.stretches import Stretch, drive, flight, rest
from tests.support.days import real
from tests.support.flights import first_is_quick, fold

SITE = Site()
EVERY_S = 600.0


def a_day(seed: int, interval_s: float = EVERY_S) -> tuple[Season, Stretch]:
    """At home, out to the site, an hour there, the flight, fetched after half an hour, home."""
    rng = stream(seed, Stream.PLAN)
    at, where = LAUNCH_UTC - 9_000.0, HOME
    pieces: list[Stretch] = []

    def add(piece: Stretch) -> None:
        nonlocal at, where
        pieces.append(piece)
        at, where = piece.end

    add(rest(rng, at, where, 1_800.0))
    add(drive(rng, at, where, SITE, hills_m=120.0))
    add(rest(rng, at, where, 3_600.0))
    flown = flight(rng, at, where, seed=seed)
    add(flown)
    add(rest(rng, at, where, 2_400.0))
    add(drive(rng, at, where, HOME))
    add(rest(rng, at, where, 1_800.0))
    return heard_of(pieces, seed=seed, interval_s=interval_s, heights=False), flown


def forecast(flown: Stretch, seed: int) -> WindsAloft:
    """Its own winds, off by an error of 2 m/s that is alike over 3 km."""
    up = slice(0, int(np.argmax(flown.altitude_m)) + 1)
    plane = Plane(float(flown.latitude_deg[0]), float(flown.longitude_deg[0]))
    x, y = plane.to_xy(flown.latitude_deg[up], flown.longitude_deg[up])
    met = measured_profile(flown.time_utc[up], x, y, flown.altitude_m[up])
    heights = np.arange(0.0, 40_000.0, 500.0)
    apart = np.abs(heights[:, None] - heights[None, :])
    root = np.linalg.cholesky(4.0 * np.exp(-apart / 3_000.0) + 1e-6 * np.eye(len(heights)))
    rng = np.random.default_rng(seed)
    rough = WindsAloft.of("own", heights, heights, heights, 2.0)
    u, v = (
        np.interp(heights, rough.u_ms, wind) + root @ rng.standard_normal(len(heights))
        for wind in (met.u_ms, met.v_ms)
    )
    return WindsAloft.of("forecast", heights, u, v, 2.0)


def settings(aloft: WindsAloft | None, launch_utc: float | None) -> FlightSettings:
    planned = launch_utc is not None
    return FlightSettings(
        payload="kanalas-1",
        trackers=(TrackerSettings(id="*", kind=TrackerKind.SATELLITE, interval_s=EVERY_S),),
        base=BaseSettings(latitude_deg=HOME.latitude_deg, longitude_deg=HOME.longitude_deg),
        plan=PlanSettings(ascent_rate_ms=5.2, ascent_rate_sd_ms=0.7),
        ground_m=SITE.ground_m,
        aloft=aloft,
        launch_utc=launch_utc,
        launch_site=Place(latitude_deg=SITE.latitude_deg, longitude_deg=SITE.longitude_deg)
        if planned
        else None,
    )


def reports(season: Season) -> list[tuple[float, Report]]:
    return [
        (
            fix.received_utc,
            Report(
                tracker="messenger-1",
                latitude_deg=fix.latitude_deg,
                longitude_deg=fix.longitude_deg,
                time_utc=fix.time_utc,
            ),
        )
        for fix in season.heard
    ]


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("planned", [True, False])
def test_only_the_flight_is_told_of_a_day_with_a_forecast(seed: int, *, planned: bool) -> None:
    season, flown = a_day(seed)
    launch = season.happened[0][1]
    told = fold(reports(season), settings(forecast(flown, seed), launch if planned else None))
    kinds = real(told.alerts)
    assert kinds.count("launched") == kinds.count("landed") == 1
    assert kinds.count("burst") <= 1
    assert kinds[0] == "launched"
    assert kinds[-1] in ("landed", "moved-after-landing")
    first = next(a for a in told.alerts if a.kind.value == "launched")
    assert launch < first.time_utc < launch + 3.2 * EVERY_S


@pytest.mark.parametrize("seed", first_is_quick(1, 2, 3, 4))
@pytest.mark.parametrize("known", [True, False])
def test_a_drive_of_an_hour_is_no_flight(seed: int, *, known: bool) -> None:
    rng = stream(seed, Stream.PLAN)
    far = replace(
        SITE,
        latitude_deg=47.1 + rng.uniform(-0.5, 0.5),
        longitude_deg=20.3 + rng.choice([-0.8, 0.8]),
    )
    at, where = LAUNCH_UTC, HOME
    pieces = [rest(rng, at, where, 1_500.0)]
    pieces.append(drive(rng, *pieces[-1].end, far))
    pieces.append(rest(rng, *pieces[-1].end, 1_800.0))
    pieces.append(drive(rng, *pieces[-1].end, HOME))
    pieces.append(rest(rng, *pieces[-1].end, 1_800.0))
    season = heard_of(pieces, seed=seed, interval_s=EVERY_S, heights=False)
    _, flown = a_day(seed)
    aloft, due = (forecast(flown, seed), LAUNCH_UTC + 7_200.0) if known else (None, None)
    assert real(fold(reports(season), settings(aloft, due)).alerts) == []
