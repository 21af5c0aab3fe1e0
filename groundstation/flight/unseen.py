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

STARTED_M: Final = 1_500.0
STARTED_POINTS: Final = 3
STARTED_MS: Final = 2.5
STILL_M: Final = 150.0
REST_M: Final = 80.0
REST_S: Final = 480.0
REST_POINTS: Final = 3


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
    begin = points[0]
    start = begin
    for point in points:
        if _apart_m(begin, point) > STILL_M:
            break
        start = point
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


def _rested(motion: Motion, points: tuple[Point, ...]) -> Motion:
    newest = points[-1]
    still = []
    for point in reversed(points):
        if _apart_m(point, newest) > REST_M:
            break
        still.append(point)
    if len(still) < REST_POINTS or newest.time_utc - still[-1].time_utc < REST_S:
        return motion
    rest: Fix | None = motion.last
    return replace(motion, phase=Phase.LANDED, since_utc=still[-1].time_utc, rest=rest)


def _apart_m(a: Point, b: Point) -> float:
    return distance_m(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)
