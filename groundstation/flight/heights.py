"""Heights that come without a place: sent on while the receiver has no fix, or by a second tracker.

They tell how high it is and whether it has burst; where it is they leave to the winds. They are
taken where no fix tells a height just then: two sensors differ, and mixed they would give climbs
that never were. How far one is off is learned from the newest fix that told a height beside it.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import numpy as np

from groundstation.flight.events import HeightHeard
from groundstation.flight.gate import (
    COPY_S,
    FASTEST_CLIMB_MS,
    FASTEST_FALL_MS,
    HIGHEST_M,
    LOWEST_M,
    SAME_HEIGHT_M,
    SAME_TIME_S,
    SLACK_M,
)
from groundstation.flight.lead import ALIKE_M
from groundstation.physics.atmosphere import pressure_altitude_m
from groundstation.records import Fix, Height, HeightReport, Reason

ALONE_S: Final = 120.0  # own choice: what is between two heights with places needs no telling
ALONE_INTERVALS: Final = 2.5  # own choice: so many missed, it tells none for now
BESIDE_S: Final = 60.0  # own choice: a climb of 300 m, of which the rate takes nearly all
OFF_AT_MOST_M: Final = 300.0  # own choice: errors of two sensors near the ground, and weather
OFF_SHARE: Final = 0.06  # twice PRESSURE_SHARE
PRESSURE_SHARE: Final = 0.03
"""How far heights by pressure are off, as a share of the climb since it was known how far: warm and
cold air is thicker and thinner than the standard atmosphere's by about that (its temperatures are
off by 5 to 10 K over whole columns, of some 250 K)."""
KEPT: Final = 240  # own choice: two hours each half a minute
APART_S: Final = 20.0  # as phases.SPACING_S: rates over less are made of errors of height
STUCK: Final = 4  # own choice: as of heights that stand still with a place (frozen.FIXES)
STUCK_ABOVE_M: Final = 3_000.0  # as frozen.ABOVE_LAUNCH_M


class Level(NamedTuple):
    """One height, made alike to those told with places; ``sd_m`` is what all such are off by."""

    time_utc: float
    altitude_m: float
    sd_m: float
    tracker: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Heights:
    """What was heard so. ``newest`` is the newest as it was told; ``levels`` are those that count,
    thinned. ``doubted`` is one that nothing gets to so fast, until the next agrees with it.
    ``stuck`` is a tracker whose heights stand still, with that height. ``off_m`` holds, for each
    tracker and way of telling, at which height it was off by how much."""

    newest: Height | None = None
    levels: tuple[Level, ...] = ()
    doubted: Height | None = None
    stuck: tuple[str, float] | None = None
    off_m: tuple[tuple[tuple[str, bool], tuple[float, float]], ...] = ()

    def off(self, height: Height) -> tuple[float, float] | None:
        """(height at which it was learned, by how much it was above), or None."""
        return dict(self.off_m).get((height.tracker, height.by_pressure))

    def since(self, at_utc: float) -> "Heights":
        """Those that count of a flight that began then."""
        return replace(
            self, levels=tuple(level for level in self.levels if level.time_utc >= at_utc)
        )


def height_told(payload: str, event: HeightHeard, own_utc: float | None) -> Height | None:
    """What a report tells, of the time ``own_utc`` where the tracker has one; None for nonsense."""
    measured = altitude_of(event.report)
    if measured is None:
        return None
    return Height(
        payload=payload,
        tracker=event.report.tracker,
        source=event.source,
        time_utc=event.received_utc if own_utc is None else own_utc,
        received_utc=event.received_utc,
        altitude_m=measured[0],
        by_pressure=measured[1],
    )


def beside_no_fix(heights: Iterable[Height], fixes: Iterable[Fix]) -> Iterator[Height]:
    """Those that came while no fix told a height; fixes in order of their own time."""
    known = np.array([fix.time_utc for fix in fixes if fix.altitude_m is not None])
    for height in heights:
        near = np.searchsorted(known, (height.time_utc - ALONE_S, height.time_utc + ALONE_S))
        if near[0] == near[1]:
            yield height


def altitude_of(report: HeightReport) -> tuple[float, bool] | None:
    """The height that a report tells, and whether by its pressure; None for nonsense. Where it
    tells both the pressure counts: it needs no fix."""
    if report.pressure_pa is not None:
        height = float(pressure_altitude_m(report.pressure_pa))
        return (height, True) if LOWEST_M <= height <= HIGHEST_M else None
    if report.altitude_m is not None and LOWEST_M <= report.altitude_m <= HIGHEST_M:
        return report.altitude_m, False
    return None


def refused(
    heights: Heights, height: Height, known: tuple[float, float] | None, *, own_time: bool
) -> tuple[Reason, str] | None:
    """Why a height does not count; ``known`` are time and altitude of the newest height before."""
    newest = heights.newest
    if newest is not None and newest.tracker == height.tracker:
        apart_s = abs(newest.time_utc - height.time_utc)
        alike = abs(newest.altitude_m - height.altitude_m) < SAME_HEIGHT_M
        if apart_s <= SAME_TIME_S or (not own_time and apart_s < COPY_S and alike):
            return Reason.DUPLICATE, "the same height was already heard from this tracker"
    if known is None or _reached(*known, height):
        return None
    doubted = heights.doubted
    if doubted is not None and _reached(doubted.time_utc, doubted.altitude_m, height):
        return None
    return Reason.JUMP, "nothing gets to that height that fast"


def _reached(since_utc: float, from_m: float, height: Height) -> bool:
    dt = max(abs(height.time_utc - since_utc), 1.0)
    climb = height.altitude_m - from_m
    if height.time_utc < since_utc:
        climb = -climb
    slack = SLACK_M + OFF_AT_MOST_M + (PRESSURE_SHARE * abs(from_m) if height.by_pressure else 0.0)
    return -FASTEST_FALL_MS * dt - slack <= climb <= FASTEST_CLIMB_MS * dt + slack


def level_of(heights: Heights, height: Height, ground_m: float) -> Level:
    """The height as the places before it would have told it."""
    at, off = heights.off(height) or (ground_m, 0.0)
    altitude = height.altitude_m - off
    sd = PRESSURE_SHARE * abs(altitude - at) if height.by_pressure else 0.0
    return Level(height.time_utc, altitude, sd, height.tracker)


def stands_still(heights: Heights, level: Level, ground_m: float) -> bool:
    """Whether a height aloft is the last one that was known, told again and again."""
    if heights.stuck is not None:
        tracker, altitude_m = heights.stuck
        return tracker == level.tracker and abs(altitude_m - level.altitude_m) < ALIKE_M
    if level.altitude_m < ground_m + STUCK_ABOVE_M:
        return False
    newest = heights.levels[1 - STUCK :]
    return len(newest) >= STUCK - 1 and all(
        earlier.tracker == level.tracker and abs(earlier.altitude_m - level.altitude_m) < ALIKE_M
        for earlier in newest
    )


def without_stuck(heights: Heights, level: Level) -> Heights:
    """Without all of those but the first."""
    levels = list(heights.levels)
    while len(levels) > 1 and abs(levels[-2].altitude_m - level.altitude_m) < ALIKE_M:
        levels.pop()
    return replace(heights, levels=tuple(levels), stuck=(level.tracker, level.altitude_m))


def counted(heights: Heights, level: Level) -> Heights:
    """With one more that counts, in its place in time."""
    levels = heights.levels
    heights = replace(heights, stuck=None)
    if levels and level.time_utc <= levels[-1].time_utc:
        return replace(heights, levels=tuple(sorted((*levels, level)))[-KEPT:])
    if len(levels) >= 2 and levels[-1].time_utc - levels[-2].time_utc < APART_S:
        levels = levels[:-1]
    return replace(heights, levels=(*levels, level)[-KEPT:])


def learned(heights: Heights, fix: Fix, rate_ms: float) -> Heights:
    """How far pressure and the other tracker's height are off, by a fix that tells its own."""
    if fix.altitude_m is None or fix.late:
        return heights
    off = dict(heights.off_m)
    values = dict(fix.telemetry)
    pressure_pa = values.get("pressure_pa")
    if pressure_pa is None and "pressure_hpa" in values:
        pressure_pa = values["pressure_hpa"] * 100.0
    if pressure_pa is not None:
        by_pressure = float(pressure_altitude_m(pressure_pa)) - fix.altitude_m
        if _believed(by_pressure, fix.altitude_m):
            off[(fix.tracker, True)] = (fix.altitude_m, by_pressure)
    newest = heights.newest
    if newest is not None and abs(newest.time_utc - fix.time_utc) < BESIDE_S:
        expected = fix.altitude_m + rate_ms * (newest.time_utc - fix.time_utc)
        if _believed(newest.altitude_m - expected, fix.altitude_m):
            key = (newest.tracker, newest.by_pressure)
            off[key] = (fix.altitude_m, newest.altitude_m - expected)
    return replace(heights, off_m=tuple(off.items())) if off else heights


def _believed(off_m: float, altitude_m: float) -> bool:
    """More is no offset but a fault; a NaN is nothing."""
    return abs(off_m) <= OFF_AT_MOST_M + OFF_SHARE * abs(altitude_m)
