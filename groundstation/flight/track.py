"""The track of a flight, thinned to what winds and descent rates need.

Points are at least ``STEP_M`` of height or ``STEP_S`` apart, so its length is bounded by the
height flown and not by the number of fixes; an estimate costs the same after 800 fixes as after
8,000. The newest fix always ends the track.
"""

from bisect import bisect_left
from dataclasses import dataclass
from typing import NamedTuple

STEP_M = 75.0  # own choice: a third of a layer of winds
STEP_S = 30.0  # own choice: so a float and the ground stay short too
MOST_POINTS = 4_000  # own choice, a bound for flights of days
PLACES_APART_S = 120.0  # own choice: nearer in time, places say the same
PLACES_APART_SHARE = 5.0  # own choice: the newest places tell most
MOST_PLACES = 16  # own choice: more cost time and add little


class Point(NamedTuple):
    """One fix of the track; ``altitude_m`` is None where the tracker gave none."""

    time_utc: float
    latitude_deg: float
    longitude_deg: float
    altitude_m: float | None


@dataclass(frozen=True, slots=True)
class Track:
    """Points in order of time. ``settled`` are kept, ``newest`` still gives way to the next."""

    settled: tuple[Point, ...] = ()
    newest: Point | None = None

    @property
    def points(self) -> tuple[Point, ...]:
        return self.settled if self.newest is None else (*self.settled, self.newest)

    def extended(self, point: Point) -> "Track":
        """Return the track with ``point`` after all others, or in its place if it is older."""
        if self.newest is None:
            return Track(self.settled, point)
        if point.time_utc <= self.newest.time_utc:
            return self._inserted(point)
        settled = self.settled
        if not settled or _apart(settled[-1], self.newest):
            settled = (*settled, self.newest)
            if len(settled) > MOST_POINTS:
                settled = (*settled[: MOST_POINTS // 2 : 2], *settled[MOST_POINTS // 2 :])
        return Track(settled, point)

    def _inserted(self, point: Point) -> "Track":
        at = bisect_left([p.time_utc for p in self.settled], point.time_utc)
        near = list(self.settled[max(at - 1, 0) : at + 1])
        if all(_apart(p, point) for p in near):
            return Track((*self.settled[:at], point, *self.settled[at:]), self.newest)
        return self


def _apart(a: Point, b: Point) -> bool:
    if abs(b.time_utc - a.time_utc) >= STEP_S:
        return True
    if a.altitude_m is None or b.altitude_m is None:
        return False
    return abs(b.altitude_m - a.altitude_m) >= STEP_M


def few_places(points: list[Point]) -> list[Point]:
    """The first, and of the others the newest, further apart the older they are, but no further
    than keeps them few."""
    newest = points[-1]
    most = (newest.time_utc - points[0].time_utc) / MOST_PLACES
    kept = [newest]
    for point in reversed(points[1:-1]):
        apart = max(
            PLACES_APART_S, min(most, (newest.time_utc - kept[-1].time_utc) / PLACES_APART_SHARE)
        )
        if kept[-1].time_utc - point.time_utc >= apart and point.time_utc > points[0].time_utc:
            kept.append(point)
    return kept if len(points) < 2 else [points[0], *kept[::-1]]
