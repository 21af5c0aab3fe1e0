"""Whether something has left the ground: a climb that no road makes.

A car climbs as its road does, a receiver behind walls tells heights that never were, a payload on
a line stays low. A balloon climbs steadily, higher than a line is long, and steeper or faster than
a road. An aircraft looks the same, and so does a cable car where the ground is not known
(``ground.rises_above``).
"""

from itertools import pairwise
from statistics import median, stdev
from typing import Final

from groundstation.physics.geodesy import distance_m
from groundstation.records import Fix

GAIN_M: Final = 300.0
"""Twice the usual tether, and 60 s of a usual ascent; own choice."""
FAST_MS: Final = 2.5
"""A grade of 12 % at 75 km/h; no car keeps that up for ``GAIN_M`` (own choice)."""
SLOWEST_MS: Final = 0.7
"""The slowest ascent that is still one (own choice); roads climb up to 1.2 m/s for long."""
STEEP: Final = 0.35
"""Height over way: the steepest streets there are (common knowledge, no source)."""
BRISK_MS, BRISK_GAIN_M = 1.3, 1_200.0
"""Faster than mountain passes are driven, for as much as the longest of them climb (own choice)."""
HIGH_M: Final = 2_500.0
"""Higher above its foot than roads lead (own choice)."""
SCATTERS: Final = 8.0
"""Standard deviations of the heights before it that a climb must exceed (own choice)."""
SCATTER_FIXES: Final = 5  # own choice: fewer say nothing of a spread
UNKNOWN_M: Final = 75.0
"""Reflections indoors make heights wander by so much (common practice, no source)."""

PLACE_M: Final = 500.0  # own choice: a launch site and its car park
DIP_M: Final = 25.0
"""Noise of a receiver's heights (own choice: four standard deviations of one in the open)."""
LARGEST_STEP: Final = 0.7  # own choice: a climb that is one step and little else is a false height
ONE_STEP_M: Final = 1_000.0
"""A single step may be a false height; above this none was seen that a second fix confirmed."""
ONE_STEP_MS: Final = 15.0
"""No latex balloon climbs faster (common practice, no source)."""
SPARSE_S: Final = 120.0
"""Fixes further apart cut the bends of a road off, so its steepness can't be told."""


def climb_begin(window: tuple[Fix, ...]) -> Fix | None:
    """The last fix on the ground before a climb that no road makes, or None.

    ``window`` holds fixes with an altitude, oldest first.
    """
    climb = _climb(window)
    if len(climb) < 2:
        return None
    before = window[: len(window) - len(climb)]
    for n in range(len(climb) - 1):
        if _flies(climb[n:], before + climb[: n + 1]):
            return _left(climb)
    return None


def drops(window: tuple[Fix, ...]) -> bool:
    """Whether the newest fixes come down as no road does: for a station that was started in the
    middle of a descent."""
    fall: list[Fix] = [window[-1]]
    for fix in reversed(window[:-1]):
        if _m(fix) <= _m(fall[-1]):
            break
        fall.append(fix)
    if len(fall) < 3:
        return False
    lost = _m(fall[-1]) - _m(fall[0])
    return lost > ONE_STEP_M and lost / _s(fall[-1], fall[0]) > FAST_MS


def _climb(window: tuple[Fix, ...]) -> tuple[Fix, ...]:
    """The newest fixes that only climb, but for noise."""
    begin = len(window) - 1
    lowest = _m(window[-1]) if window else 0.0
    while begin > 0 and _m(window[begin - 1]) <= lowest + DIP_M:
        begin -= 1
        lowest = min(lowest, _m(window[begin]))
    return window[begin:]


def _flies(climb: tuple[Fix, ...], before: tuple[Fix, ...]) -> bool:
    low, newest = climb[0], climb[-1]
    gained, took = _m(newest) - _m(low), _s(low, newest)
    # What lies still is asked at every fix, and its scatter costs most.
    if gained < GAIN_M or gained < SLOWEST_MS * took:
        return False
    if gained < SCATTERS * _scatter_m(before, low):
        return False
    steps = [_m(b) - _m(a) for a, b in pairwise(climb)]
    if max(steps) > LARGEST_STEP * gained and (
        gained < ONE_STEP_M or gained > ONE_STEP_MS * took or steps[-1] <= 0.0
    ):
        return False
    rate = gained / took
    if rate >= FAST_MS or gained >= HIGH_M or (rate >= BRISK_MS and gained >= BRISK_GAIN_M):
        return True
    spacing = median(_s(a, b) for a, b in pairwise(climb))
    placed = all(fix.placed for fix in climb)
    return placed and spacing <= SPARSE_S and gained >= STEEP * _way_m(climb)


def _scatter_m(fixes: tuple[Fix, ...], at: Fix) -> float:
    """Standard deviation of the heights that were told of the place ``at``, where it lay until
    then; that of a receiver behind walls where there are too few to tell."""
    heights = [_m(fix) for fix in fixes if _apart_m(fix, at) < PLACE_M]
    return stdev(heights) if len(heights) >= SCATTER_FIXES else UNKNOWN_M


def _left(climb: tuple[Fix, ...]) -> Fix:
    """The last fix at the height of the ground, which is the middle of those near the lowest: one
    that is too low by itself may be long before the launch."""
    lowest = min(map(_m, climb))
    ground = median(_m(fix) for fix in climb if _m(fix) <= lowest + 60.0)
    return next(fix for fix in reversed(climb) if _m(fix) <= ground + DIP_M)


def _way_m(fixes: tuple[Fix, ...]) -> float:
    return sum(_apart_m(a, b) for a, b in pairwise(fixes))


def _apart_m(a: Fix, b: Fix) -> float:
    return distance_m(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)


def _m(fix: Fix) -> float:
    return fix.altitude_m or 0.0


def _s(older: Fix, newer: Fix) -> float:
    return max(newer.time_utc - older.time_utc, 1.0)
