"""Phases while fixes have no altitude: only the start and the end of the flight can be seen.

That it has started is judged by how it moves, which a car may do as well (``flight.afloat``). When
it bursts nobody sees: the estimate goes by the clock.
"""

import math
from dataclasses import replace
from typing import Final

from groundstation.flight.afloat import odds_of_flight
from groundstation.flight.settings import FlightSettings
from groundstation.flight.state import Motion
from groundstation.flight.track import Point, Track
from groundstation.physics.geodesy import distance_m
from groundstation.records import Fix, Phase

SURELY: Final = math.log(9.0)  # of nine to one: nine tenths, as phases are told from
AGAIN: Final = 2.0  # own choice: what moves after a landing is nearly always fetched
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


def moved(settings: FlightSettings, motion: Motion) -> Motion:
    """The phase after the newest point of the track."""
    points = motion.track.points
    if len(points) < STARTED_POINTS or motion.first is None or motion.last is None:
        return motion
    match motion.phase:
        case Phase.PRELAUNCH | Phase.LANDED if not any(fix.placed for fix in motion.window):
            return _started(settings, motion, points)
        case Phase.ASCENT | Phase.FLOAT | Phase.DESCENT:
            return _rested(motion, points)
        case _:
            return motion


def _started(settings: FlightSettings, motion: Motion, points: tuple[Point, ...]) -> Motion:
    """Told as launched where a flight is much likelier than a drive; where neither is, it may be
    one."""
    start = _stayed(points)
    newest = points[-1]
    since = newest.time_utc - start.time_utc
    far = _apart_m(start, newest)
    ways = [point for point in points if point.time_utc >= start.time_utc]
    if len(ways) < STARTED_POINTS or far < STARTED_M or far < STARTED_MS * since:
        return motion if motion.maybe is None else replace(motion, maybe=None, maybe_chance=0.0)
    odds = odds_of_flight(settings, ways)
    if odds is None:
        return motion
    assert motion.last is not None
    launch = stood_at(motion.last, start)
    if motion.phase is Phase.LANDED:
        # It was fetched, more likely.
        return launched(motion, launch) if odds.both - AGAIN > SURELY else motion
    if odds.both > SURELY:
        return launched(motion, launch)
    # Where nothing says what day it is, only how it moves makes a drive of it.
    may = odds.both if settings.flight_due else odds.seen
    if may < -SURELY:
        return replace(motion, maybe=None, maybe_chance=0.0)
    return replace(motion, maybe=launch, maybe_chance=odds.chance)


def stood_at(last: Fix, point: Point) -> Fix:
    """The tracker of ``last`` at ``point``."""
    return replace(
        last,
        time_utc=point.time_utc,
        latitude_deg=point.latitude_deg,
        longitude_deg=point.longitude_deg,
        altitude_m=None,
    )


def launched(motion: Motion, launch: Fix, since_utc: float | None = None) -> Motion:
    """A flight begins with its launch: what was heard on the way to it is not of the flight."""
    points = tuple(point for point in motion.track.points if point.time_utc >= launch.time_utc)
    return Motion(
        phase=Phase.ASCENT,
        since_utc=launch.time_utc if since_utc is None else since_utc,
        first=launch,
        last=motion.last,
        launch=launch,
        track=Track(points[:-1], points[-1]),
    )


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


def at_rest(points: tuple[Point, ...]) -> tuple[int, float]:
    """How many of the newest points lie still, and within how many metres of the newest."""
    still = _still(points)
    return len(still), max((_apart_m(point, points[-1]) for point in still), default=0.0)


def _still(points: tuple[Point, ...]) -> list[Point]:
    """The newest points that stayed in one place, the newest first."""
    still: list[Point] = []
    for point in reversed(points):
        if _apart_m(point, points[-1]) > REST_M:
            break
        still.append(point)
    return still


def _rested(motion: Motion, points: tuple[Point, ...]) -> Motion:
    newest, still = points[-1], _still(points)
    lasts = newest.time_utc - still[-1].time_utc
    if lasts < SPARSE_S * (len(still) - 1):
        if len(still) < REST_POINTS or lasts < REST_S:
            return motion
    elif len(still) < 2:
        return motion
    begun = motion.launch
    if begun is not None and still[-1].time_utc - begun.time_utc < SHORTEST_S:
        since = still[-1].time_utc
        return replace(
            motion, phase=Phase.PRELAUNCH, since_utc=since, launch=None, launch_word=None
        )
    rest: Fix | None = motion.last
    return replace(motion, phase=Phase.LANDED, since_utc=still[-1].time_utc, rest=rest)


def _apart_m(a: Point, b: Point) -> float:
    return distance_m(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)
