"""What climbs along the ground is no flight where the heights of the ground are known."""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from numpy.typing import NDArray

from groundstation.records import AlertKind
from groundstation.simulation.season import Heard, Season
from groundstation.simulation.settings import LAUNCH_UTC
from tests.support.days import ANY, real, told

FOOT_M, TOP_M, LONG_M = 420.0, 1_480.0, 3_000.0
LAT, LON = 47.40, 19.90
METRES_PER_DEGREE = 111_195.0 * float(np.cos(np.radians(LAT)))
"""Of longitude there, on a sphere of 6,371 km."""
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Slope:
    """Level to the west, then up evenly, then level; ``known`` where its heights are."""

    known: bool = True

    def heights_m(self, latitude_deg: Array, longitude_deg: Array) -> Array:
        del latitude_deg  # it runs north and south
        east_m = (longitude_deg - LON) * METRES_PER_DEGREE
        height = FOOT_M + np.clip(east_m / LONG_M, 0.0, 1.0) * (TOP_M - FOOT_M)
        return np.asarray(height if self.known else np.full_like(height, np.nan))


WITH_TERRAIN = replace(ANY, terrain=Slope())


def on(way_m: Array, above_m: Array, spacing_s: float) -> Season:
    """Fixes at places ``way_m`` east of the foot, so far above the ground, after a quarter of an
    hour at the first."""
    lon = LON + way_m / METRES_PER_DEGREE
    height = Slope().heights_m(np.full_like(lon, LAT), lon) + above_m
    waited = int(900 / spacing_s)
    rows = [(lon[0], height[0])] * waited + list(zip(lon, height, strict=True))
    return Season(
        heard=tuple(
            Heard(LAUNCH_UTC + n * spacing_s, LAUNCH_UTC + n * spacing_s, LAT, float(x), float(z))
            for n, (x, z) in enumerate(rows)
        ),
        happened=(),
    )


def ride(spacing_s: float) -> Season:
    """In a cabin at 10 m/s, up to 80 m above the ground between its masts (common practice)."""
    way = np.arange(0.0, LONG_M + 1.0, 10.0 * spacing_s)
    return on(way, 40.0 * (1.0 - np.cos(2.0 * np.pi * way / 750.0)), spacing_s)


def launch(spacing_s: float) -> Season:
    """A balloon at 5 m/s, which the wind carries up the slope at 8 m/s."""
    after = np.arange(0.0, 1_500.0, spacing_s)
    lon = LON + 8.0 * after / METRES_PER_DEGREE
    ground = Slope().heights_m(np.full_like(lon, LAT), lon)
    return on(8.0 * after, FOOT_M + 5.0 * after - ground, spacing_s)


def first_told(season: Season, terrain: Slope | None) -> float | None:
    alerts = told(season, replace(ANY, terrain=terrain))
    return next((alert.time_utc for alert in alerts if alert.kind is AlertKind.LAUNCHED), None)


@pytest.mark.parametrize("spacing_s", [5.0, 20.0, 60.0])
def test_a_ride_up_a_cable_car_is_no_flight(spacing_s: float) -> None:
    assert real(told(ride(spacing_s), WITH_TERRAIN)) == []


def test_where_nobody_knows_the_ground_it_looks_like_one() -> None:
    assert "launched" in real(told(ride(20.0)))
    assert first_told(ride(20.0), Slope(known=False)) == first_told(ride(20.0), None)


@pytest.mark.parametrize("spacing_s", [5.0, 20.0, 60.0])
def test_a_launch_up_a_slope_is_told_hardly_later(spacing_s: float) -> None:
    plain, knowing = first_told(launch(spacing_s), None), first_told(launch(spacing_s), Slope())
    assert plain is not None
    assert knowing is not None
    assert plain <= knowing <= plain + 120.0
