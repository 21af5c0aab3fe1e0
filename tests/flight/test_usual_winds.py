"""What is believed of winds that nobody knows, against recorded flights."""

from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from groundstation.flight.windbelief import belief
from groundstation.physics.courses import MIDDLE_M
from groundstation.physics.geodesy import Plane
from groundstation.physics.layers import MIDDLE_M as FINE_M
from groundstation.physics.wind import measured_profile
from tests.support.flown import track

FLIGHTS = (
    "f01", "f02", "f03", "f04", "f05", "f06", "f08", "f09", "f11", "f14", "f15", "f17", "f19",
    "f21", "f23", "f25",
)  # fmt: skip
JUNE, JANUARY = 1_717_200_000.0, 1_704_700_000.0


@lru_cache(maxsize=1)
def profiles(shared: Path) -> list[tuple[NDArray[np.float64], float, float]]:
    """Winds (2, layers) of climbs, and the heights between which."""
    found = []
    for name in FLIGHTS:
        one = track(shared, name)
        up = slice(0, int(np.argmax(one.altitude_m)) + 1)
        x, y = Plane(one.lat[0], one.lon[0]).to_xy(one.lat[up], one.lon[up])
        met = measured_profile(one.time_s[up], x, y, one.altitude_m[up])
        found.append((np.stack([met.u_ms, met.v_ms]), met.lowest_m, met.highest_m))
    return found


def seen_ms(shared: Path, low_m: float, high_m: float, apart_m: float) -> float:
    differences = [
        np.interp(z + apart_m, FINE_M, wind) - np.interp(z, FINE_M, wind)
        for winds, lowest, highest in profiles(shared)
        for wind in winds
        for z in np.arange(low_m, high_m, 500.0)
        if lowest <= z and z + apart_m <= highest
    ]
    return float(np.sqrt(np.mean(np.square(differences))))


def believed_ms(low_m: float, high_m: float, apart_m: float) -> float:
    shared = belief(None, JUNE, 47.0).shared
    found = []
    for z in np.arange(low_m, high_m, 500.0):
        a, b = (int(np.argmin(np.abs(MIDDLE_M - at))) for at in (z, z + apart_m))
        found.append(shared[a, a] + shared[b, b] - 2.0 * shared[a, b])
    return float(np.sqrt(np.mean(found)))


@pytest.mark.parametrize("apart_m", [500.0, 1_000.0, 2_000.0, 4_000.0])
@pytest.mark.parametrize(
    ("low_m", "high_m"), [(1_000.0, 8_000.0), (8_000.0, 16_000.0), (18_000.0, 26_000.0)]
)
def test_winds_change_with_height_as_recorded_ones_do(
    shared: Path, low_m: float, high_m: float, apart_m: float
) -> None:
    """Before, they were believed to change by twice as much over 500 m and 1 km."""
    seen, believed = seen_ms(shared, low_m, high_m, apart_m), believed_ms(low_m, high_m, apart_m)
    assert 0.6 < believed / seen < 1.5


def test_the_stratosphere_is_stormy_in_winter_on_either_half_of_the_earth() -> None:
    """Fleming et al. 1990 (from memory): westerlies of some 20 m/s at 30 km in January, weaker
    easterlies in July."""

    def at_30_km(utc: float, latitude_deg: float) -> float:
        shared = belief(None, utc, latitude_deg).shared
        layer = int(np.argmin(np.abs(MIDDLE_M - 30_000.0)))
        return float(np.sqrt(shared[layer, layer]))

    assert at_30_km(JANUARY, 47.0) > 2.0 * at_30_km(JUNE, 47.0)
    assert at_30_km(JUNE, -40.0) == pytest.approx(at_30_km(JANUARY, 47.0), rel=0.2)
