"""What the spans of a plan rest on, held against recorded flights where those can tell."""

from pathlib import Path

import numpy as np
import pytest
from scipy.stats import skew

from benchmarks.tracks import Track, read_tracks
from groundstation.physics.layers import fall_path_m
from groundstation.planning.flight_file import read_flight
from groundstation.planning.spread import planned
from tests.support.plans import EXAMPLE, run

PLAN = planned(read_flight(EXAMPLE))


def recorded(shared: Path) -> list[Track]:
    return [one for folder in ("flights", "radiosondes") for one in read_tracks(shared / folder)]


def test_bursts_are_as_far_from_the_middle_as_recorded_ones_and_skew_low(shared: Path) -> None:
    """Others' flights and balloons: about nine of ten are in the span around their middle."""
    highest = np.array([one.altitude_m[one.top] for one in recorded(shared)])
    off = highest - np.median(highest)
    burst = PLAN.burst_altitude_m
    inside = (off >= burst.low - burst.value) & (off <= burst.high - burst.value)
    assert 0.75 <= inside.mean() <= 1.0
    assert skew(highest) < -0.5
    assert burst.value - burst.low > 1.3 * (burst.high - burst.value)


def test_recorded_falls_are_between_the_open_and_the_fouled_canopy(shared: Path) -> None:
    """Below 5 km, reduced to sea level: those that a plan of 5.4 m/s does not know are told as a
    case of their own."""
    slow, fast = PLAN.descent_rate_ms.low, PLAN.fouled.rate_ms[1]
    found = []
    for one in recorded(shared):
        low = (one.altitude_m < 5_000.0) & (one.altitude_m > one.ground_m + 100.0)
        below = np.nonzero((np.arange(len(one.time_s)) > one.top) & low)[0]
        if len(below) > 2 and one.altitude_m[below[0]] - one.altitude_m[below[-1]] > 1_000.0:
            path = fall_path_m(one.altitude_m[below[[0, -1]]])
            found.append((path[0] - path[1]) / (one.time_s[below[-1]] - one.time_s[below[0]]))
    rates = np.array(found)
    assert len(rates) >= 12
    # One came down at 2 m/s, under a balloon that leaked.
    assert ((rates > slow) & (rates < fast)).mean() > 0.9
    assert (rates > PLAN.descent_rate_ms.high).mean() > 0.8


def test_a_fall_without_a_canopy_is_that_of_a_box() -> None:
    """1.15 kg of boxes and a parachute of 0.11 kg: by hand 21 to 34 m/s of drag areas of 0.018 to
    0.045 m², weight = rho CdA v² / 2."""
    low, high = PLAN.bare.rate_ms
    assert (low, high) == pytest.approx((21.4, 33.8), abs=0.2)
    assert PLAN.bare.impact_j[1] == pytest.approx(0.5 * 1.26 * high**2)


def test_what_is_judged_is_called_judged_and_the_other_falls_are_told() -> None:
    done = run(EXAMPLE)
    assert "judged spans, meant to hold nine of ten" in done.stdout
    assert "nine tenths of such flights" not in done.stdout
    for name in ("if the canopy fouls", "without a canopy"):
        [line] = [one for one in done.stdout.splitlines() if one.strip().startswith(name)]
        assert " m/s, " in line
        assert " J (assumed: 1 flight in " in line
