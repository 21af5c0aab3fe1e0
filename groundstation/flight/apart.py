"""Whether the trackers of one payload say the same."""

from dataclasses import dataclass, replace
from typing import Final

from groundstation.physics.geodesy import distance_m
from groundstation.records import Fix

TOGETHER_S: Final = 180.0
"""Fixes farther apart in time are not compared. Own choice."""

SLACK_M: Final = 600.0  # own choice: errors of both, and heights of two sensors
DRIFT_MS: Final = 60.0  # own choice: fast winds aloft, for the time between two fixes
CLIMB_MS: Final = 15.0  # own choice: a quick ascent or a usual descent, as DRIFT_MS
TIMES: Final = 3
"""So often in a row, and it is told. Own choice, against a single bad fix."""


@dataclass(frozen=True, slots=True)
class Apart:
    """``newest`` has the last fix of each tracker; ``times`` counts comparisons in a row that did
    not agree, ``by_m`` is how far the last one was off."""

    newest: tuple[Fix, ...] = ()
    times: int = 0
    by_m: float = 0.0

    @property
    def disagree(self) -> bool:
        return self.times >= TIMES


def compared(apart: Apart, fix: Fix) -> Apart:
    """Take a fix, believed or not, of a tracker of the payload."""
    others = [other for other in apart.newest if other.tracker != fix.tracker]
    newest = (*others, fix)
    near = [other for other in others if abs(other.time_utc - fix.time_utc) <= TOGETHER_S]
    if not near:
        return replace(apart, newest=newest)
    off = min(_off_m(other, fix) for other in near)
    if off > 0.0:
        return Apart(newest, min(apart.times + 1, TIMES), off)
    # Forgotten as slowly as it was learned: two that disagree may cross.
    times = max(apart.times - 1, 0)
    return Apart(newest, times, apart.by_m if times else 0.0)


def _off_m(a: Fix, b: Fix) -> float:
    """How far the two are apart, 0 where that can be their movement meanwhile."""
    dt = abs(a.time_utc - b.time_utc)
    across = distance_m(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)
    slack = SLACK_M + a.uncertainty_m + b.uncertainty_m
    off = across if across > slack + DRIFT_MS * dt else 0.0
    if a.altitude_m is not None and b.altitude_m is not None:
        up = abs(a.altitude_m - b.altitude_m)
        # Near the burst one may be falling already, at a hundred metres a second.
        if up > slack + CLIMB_MS * dt and up > 90.0 * dt:
            off = max(off, up)
    return off
