"""Phases while fixes have no altitude: only the start and the end of the flight can be seen.

That it has started is judged by how it moves, which a car may do as well; so it must move far. When
it bursts nobody sees: the estimate goes by the clock.
"""

from dataclasses import replace
from typing import Final

from groundstation.flight.state import Motion
from groundstation.flight.track import Point
from groundstation.physics.geodesy import distance_m
from groundstation.records import Fix, Phase

STARTED_M: Final = 600.0  # own choice: no yard is as wide, and no fix as bad
STARTED_POINTS: Final = 3  # own choice: two may be one bad fix
STARTED_MS: Final = 1.0  # own choice: slower than nearly any wind aloft
STILL_M: Final = 150.0  # own choice: scatter of a tracker in a yard
REST_M: Final = 80.0  # own choice: scatter of a tracker that lies
REST_S: Final = 480.0  # own choice: nothing hangs in the air so still for so long
REST_POINTS: Final = 3  # own choice: two may be one copy
SPARSE_S: Final = 240.0
"""In so long nothing stays within ``REST_M`` in the air (own choice: a wind of 0.3 m/s)."""
SHORTEST_S: Final = 2_400.0
"""A flight up to a usual burst and down again takes longer; what rests sooner was driven about (own
choice)."""


def moved(motion: Motion) -> Motion:
    """The phase after the newest point of the track."""
    points = motion.track.points
    if len(points) < STARTED_POINTS or motion.first is None or motion.last is None:
        return motion
    match motion.phase:
        case Phase.PRELAUNCH if not motion.window:
            return _started(motion, points)
        case Phase.ASCENT | Phase.FLOAT | Phase.DESCENT:
            return _rested(motion, points)
        case _:
            return motion


def _started(motion: Motion, points: tuple[Point, ...]) -> Motion:
    start = _stayed(points)
    newest = points[-1]
    since = newest.time_utc - start.time_utc
    far = _apart_m(start, newest)
    after = [point for point in points if point.time_utc > start.time_utc]
    if len(after) < STARTED_POINTS - 1 or far < STARTED_M or far < STARTED_MS * since:
        return motion
    assert motion.first is not None
    launch = replace(
        motion.first,
        time_utc=start.time_utc,
        latitude_deg=start.latitude_deg,
        longitude_deg=start.longitude_deg,
    )
    return replace(motion, phase=Phase.ASCENT, since_utc=start.time_utc, launch=launch)


def _stayed(points: tuple[Point, ...]) -> Point:
    """The newest point at which it had stayed for a while; the last one near the first of all
    where it never did."""
    for n in range(len(points) - 1, 0, -1):
        earlier = (p for p in reversed(points[:n]) if points[n].time_utc - p.time_utc >= SPARSE_S)
        before = next(earlier, None)
        if before is not None and _apart_m(before, points[n]) <= STILL_M:
            return points[n]
    start = points[0]
    for point in points:
        if _apart_m(points[0], point) > STILL_M:
            break
        start = point
    return start


def _rested(motion: Motion, points: tuple[Point, ...]) -> Motion:
    newest = points[-1]
    still = []
    for point in reversed(points):
        if _apart_m(point, newest) > REST_M:
            break
        still.append(point)
    lasts = newest.time_utc - still[-1].time_utc
    if lasts < SPARSE_S * (len(still) - 1):
        if len(still) < REST_POINTS or lasts < REST_S:
            return motion
    elif len(still) < 2:
        return motion
    begun = motion.launch
    if begun is not None and still[-1].time_utc - begun.time_utc < SHORTEST_S:
        return replace(motion, phase=Phase.PRELAUNCH, since_utc=still[-1].time_utc, launch=None)
    rest: Fix | None = motion.last
    return replace(motion, phase=Phase.LANDED, since_utc=still[-1].time_utc, rest=rest)


def _apart_m(a: Point, b: Point) -> float:
    return distance_m(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)
