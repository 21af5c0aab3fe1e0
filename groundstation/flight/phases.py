"""Before launch, ascent, float, descent, landed: read off the heights.

It must do at one fix a second as at one in five minutes, so it looks at fixes at least
``SPACING_S`` apart, and at the newest.
"""

import math
from dataclasses import replace

import numpy as np

from groundstation.flight import departure, phases_without_heights
from groundstation.flight.ground import rises_above
from groundstation.flight.settings import FlightSettings
from groundstation.flight.state import Burst, Motion
from groundstation.flight.track import Point, Track
from groundstation.physics.atmosphere import SEA_LEVEL_DENSITY_KGM3, density
from groundstation.physics.geodesy import distance_m
from groundstation.records import Fix, Phase

SPACING_S = 20.0  # own choice: rates over less are made of errors of height
WINDOW = 32  # own choice: ten minutes of fixes at SPACING_S
FALL_DROP_M = 100.0
"""Waves in an ascent go less far down (own choice; the recorded flights show up to 40 m)."""
SLOWEST_FALL_MS = 1.75
"""At sea level: half of the slowest canopy of the project's study of real flights (3.9 m/s), less
a tenth for the first kilometre. What falls slower is told by ``SINKING_DROP_M``."""
SINKING_DROP_M, SINKING_MS = 600.0, 1.0
"""Twice what a float was seen to swing, in a quarter of an hour (own choice)."""
LOCAL_S = 900.0  # own choice: the quarter of an hour that SINKING_DROP_M means
DOUBT_DROP_M = 200.0  # own choice: twice what a waving ascent goes down
FLOAT_S = 480.0
"""Longer than a period of the stratosphere's buoyancy, five minutes (any textbook)."""
FLOAT_MS = 0.5  # own choice: a tenth of a usual ascent
FLOAT_BAND_M = 450.0
"""A swing of 150 m to either side, and half as much again (own choice)."""
CLIMBS_AGAIN_M = 500.0  # own choice: more than FLOAT_BAND_M
REST_S = 60.0  # own choice: nothing in the air is still for a minute
REST_FIXES = 3  # own choice: two may be one copy
REST_ACROSS_M = 60.0  # own choice: scatter of a tracker that lies under leaves
REST_BAND_M = 40.0  # own choice: as REST_ACROSS_M; heights scatter less under open sky
LEVEL_S, LEVEL_FIXES = 180.0, 4  # own choice, see LEVEL_BAND_M
LEVEL_BAND_M = 120.0
"""In this time the slowest fall at sea level loses 300 m, so what stays in this band is carried
along the ground (own choice)."""
OUTDONE_M = 3_000.0
"""What climbs by so much after a person said that it is no flight does fly: no road, tether or
building does that (own choice)."""
LEVEL_AGL_M = 1_500.0  # own choice: hills around the place of the launch
CLOSED_GAP_S = 6 * 3600.0
"""What is known of a day on the ground is forgotten after this; of a flight, never."""


def moved(settings: FlightSettings, motion: Motion, fix: Fix) -> Motion:
    """Take one believed fix into the motion. A late one only joins the track."""
    point = Point(fix.time_utc, fix.latitude_deg, fix.longitude_deg, fix.altitude_m)
    if fix.late:
        return replace(motion, track=motion.track.extended(point))
    if motion.last is not None and fix.time_utc - motion.last.time_utc > CLOSED_GAP_S:
        motion = Motion() if motion.phase is Phase.PRELAUNCH else replace(motion, window=())
    highest = motion.highest
    if fix.altitude_m is not None and (
        highest is None or highest.altitude_m is None or fix.altitude_m > highest.altitude_m
    ):
        highest = fix
    motion = replace(
        motion,
        first=motion.first or fix,
        last=fix,
        highest=highest,
        window=_windowed(motion.window, fix),
        track=motion.track.extended(point),
        tells_height=motion.tells_height or fix.altitude_m is not None,
    )
    if motion.no_flight_m is not None:
        motion = _as_said(motion, motion.no_flight_m)
        if motion.no_flight_m is not None:
            return motion
    if not motion.window or fix.altitude_m is None:
        return phases_without_heights.moved(settings, motion)
    return _by_heights(settings, motion)


def _by_heights(settings: FlightSettings, motion: Motion) -> Motion:
    match motion.phase:
        case Phase.PRELAUNCH:
            return _before_launch(settings, motion)
        case Phase.ASCENT | Phase.FLOAT:
            return _aloft(motion)
        case Phase.DESCENT:
            return _falling(settings, motion)
        case Phase.LANDED:
            return _on_the_ground(settings, motion)


def moved_in_height(settings: FlightSettings, motion: Motion, fix: Fix) -> Motion:
    """Take a height without a place into the motion. It tells of climb, float and fall; that it
    lies still it can't tell, since nobody knows where."""
    highest = motion.highest
    if highest is None or _height(fix) > _height(highest):
        highest = fix
    motion = replace(motion, highest=highest, window=_windowed(motion.window, fix))
    if motion.no_flight_m is not None:
        motion = _as_said(motion, motion.no_flight_m)
        if motion.no_flight_m is not None:
            return motion
    return _by_heights(settings, motion)


def _as_said(motion: Motion, said_m: float) -> Motion:
    """What a person called no flight is none until it has rested, or is far above."""
    points, still = motion.track.points, _still(motion) if motion.window else []
    if motion.window and _height(motion.window[-1]) > said_m + OUTDONE_M:
        return replace(motion, no_flight_m=None)
    if len(still) >= REST_FIXES and still[0].time_utc - still[-1].time_utc >= LEVEL_S:
        return replace(motion, no_flight_m=None, window=tuple(reversed(still)))
    count, _ = phases_without_heights.at_rest(points)
    if not motion.window and count > 1 and points[-1].time_utc - points[-count].time_utc >= LEVEL_S:
        track = Track(points[-count:-1], points[-1])
        return replace(motion, no_flight_m=None, track=track)
    return motion


def _windowed(window: tuple[Fix, ...], fix: Fix) -> tuple[Fix, ...]:
    if fix.altitude_m is None:
        return window
    if len(window) >= 2 and window[-1].time_utc - window[-2].time_utc < SPACING_S:
        window = window[:-1]
    return (*window[1 - WINDOW :], fix)


def _height(fix: Fix) -> float:
    return fix.altitude_m or 0.0


def _rate(older: Fix, newer: Fix) -> float:
    return (_height(newer) - _height(older)) / max(newer.time_utc - older.time_utc, 1.0)


def _recent_rate(window: tuple[Fix, ...]) -> float:
    """Vertical speed over at least one spacing, up positive."""
    newest = window[-1]
    for older in reversed(window[:-1]):
        if newest.time_utc - older.time_utc >= SPACING_S:
            return _rate(older, newest)
    return 0.0


def _climb_begin(settings: FlightSettings, motion: Motion) -> Fix | None:
    """The last fix on the ground before a climb from it."""
    low = departure.climb_begin(motion.window)
    if low is None or not rises_above(settings.terrain, low, motion.window[-1]):
        return None
    return low


def _before_launch(settings: FlightSettings, motion: Motion) -> Motion:
    low = _climb_begin(settings, motion)
    if low is not None:
        return _launched(motion, low)
    # The station was started in the middle of a fall.
    return _burst(motion, motion.highest) if departure.drops(motion.window) else motion


def _launched(motion: Motion, low: Fix) -> Motion:
    """A flight begins with its launch: what was heard on the way to it is not of the flight."""
    assert motion.first is not None
    assert motion.last is not None
    known = motion.track.points
    points = tuple(point for point in known if point.time_utc >= low.time_utc) or known[-1:]
    return Motion(
        phase=Phase.ASCENT,
        since_utc=low.time_utc,
        first=low,
        last=motion.last,
        highest=max(motion.window, key=_height),
        launch=low,
        waited=motion.first.time_utc < low.time_utc,
        tells_height=any(fix.placed for fix in motion.window),
        window=tuple(fix for fix in motion.window if fix.time_utc >= low.time_utc),
        track=Track(points[:-1], points[-1]),
    )


def _fell(motion: Motion) -> bool:
    """Two fixes one below the other after the highest one, falling as only a fall does."""
    top = _local_top(motion)
    after = [fix for fix in motion.window[-3:] if fix.time_utc > top.time_utc]
    if len(after) < 2 or not _height(after[-1]) < _height(after[-2]) < _height(top):
        return False
    newest = after[-1]
    dropped = _height(top) - _height(newest)
    fastest = min(_rate(top, newest), _recent_rate(motion.window))
    if dropped > FALL_DROP_M and fastest < -_slowest_fall_ms(_height(newest)):
        return True
    return dropped > SINKING_DROP_M and _rate(top, newest) < -SINKING_MS


def _local_top(motion: Motion) -> Fix:
    """The highest fix of late: a float may have been higher long ago."""
    newest = motion.window[-1]
    recent = [fix for fix in motion.window if newest.time_utc - fix.time_utc <= LOCAL_S]
    top, before = max(recent, key=_height), motion.highest
    if before is not None and newest.time_utc - before.time_utc <= LOCAL_S:
        return max(top, before, key=_height)
    return top if len(recent) > 2 or before is None else before


def _slowest_fall_ms(altitude_m: float) -> float:
    thin = SEA_LEVEL_DENSITY_KGM3 / float(density(np.array(max(altitude_m, 0.0))))
    return SLOWEST_FALL_MS * math.sqrt(thin)


def looks_falling(motion: Motion) -> bool:
    """Whether the newest fix speaks of a fall, which one more must confirm before it is told."""
    top, last = motion.highest, motion.last
    if motion.phase not in (Phase.ASCENT, Phase.FLOAT) or top is None or last is None:
        return motion.phase is Phase.DESCENT
    if last.altitude_m is None or top is last or not motion.window:
        return False
    top = _local_top(motion)
    dropped = _height(top) - last.altitude_m
    rate = _rate(top, last)
    if dropped > DOUBT_DROP_M and rate < -_slowest_fall_ms(last.altitude_m):
        return True
    # With rare fixes most of the time since the highest one may still have been climb.
    return dropped > SINKING_DROP_M and rate < -SINKING_MS


def _burst(motion: Motion, top: Fix | None) -> Motion:
    assert top is not None
    burst = Burst(time_utc=top.time_utc, altitude_m=_height(top))
    return replace(motion, phase=Phase.DESCENT, since_utc=top.time_utc, burst=burst)


def _aloft(motion: Motion) -> Motion:
    if _fell(motion):
        return _burst(motion, _local_top(motion))
    newest = motion.window[-1]
    span = [fix for fix in motion.window if newest.time_utc - fix.time_utc <= 1.5 * FLOAT_S]
    heights = [_height(fix) for fix in span]
    lasting = newest.time_utc - span[0].time_utc >= FLOAT_S
    level = max(heights) - min(heights) < FLOAT_BAND_M and abs(_rate(span[0], newest)) < FLOAT_MS
    if motion.phase is Phase.ASCENT and lasting and level:
        if motion.launch is None or _height(newest) > _height(motion.launch) + 1_000.0:
            return replace(motion, phase=Phase.FLOAT, since_utc=span[0].time_utc)
        return _rested(motion)
    if (
        motion.phase is Phase.FLOAT
        and lasting
        and _height(newest) - _height(span[0]) > FLOAT_BAND_M
        and _rate(span[0], newest) > FLOAT_MS
    ):
        return replace(motion, phase=Phase.ASCENT, since_utc=span[0].time_utc)
    return motion


def _falling(settings: FlightSettings, motion: Motion) -> Motion:
    rested = _rested(motion)
    if rested is not motion or motion.burst is None:
        return rested
    newest = motion.window[-1]
    since = [fix for fix in motion.window if fix.time_utc >= motion.burst.time_utc]
    low = min(since, key=_height)
    climbed = _height(newest) - _height(low)
    if climbed > CLIMBS_AGAIN_M and _climb_begin(settings, motion) is not None:
        return replace(motion, phase=Phase.ASCENT, since_utc=low.time_utc)
    return _along_the_ground(motion)


def _along_the_ground(motion: Motion) -> Motion:
    """Landed, where it no longer falls but moves on near the height of the launch: somebody has it,
    or the wind."""
    newest, launch, burst = motion.window[-1], motion.launch, motion.burst
    if not newest.placed:
        return motion
    ground_m = 0.0 if launch is None else _height(launch)
    if burst is None or _height(newest) > ground_m + LEVEL_AGL_M:
        return motion
    level = [newest]
    for fix in reversed(motion.window[:-1]):
        heights = [_height(level_fix) for level_fix in (*level, fix)]
        if max(heights) - min(heights) > LEVEL_BAND_M:
            break
        level.append(fix)
    lasted = newest.time_utc - level[-1].time_utc
    if lasted < LEVEL_S or len(level) < LEVEL_FIXES or _rate(level[-1], newest) < -FLOAT_MS:
        return motion
    first = level[-1]
    return replace(motion, phase=Phase.LANDED, since_utc=first.time_utc, rest=first)


def at_rest(motion: Motion) -> tuple[int, float]:
    """How many of the newest fixes lie still, and within how many metres of the newest."""
    if motion.last is not None and motion.last.altitude_m is None:
        return phases_without_heights.at_rest(motion.track.points)
    still = _still(motion) if motion.window else []
    if len(still) < 2:
        return len(still), 0.0
    newest = still[0]
    return len(still), max(
        distance_m(fix.latitude_deg, fix.longitude_deg, newest.latitude_deg, newest.longitude_deg)
        for fix in still[1:]
    )


def _rested(motion: Motion) -> Motion:
    """Landed, once several fixes over a minute stayed in one place and at one height."""
    newest, still = motion.window[-1], _still(motion)
    if len(still) < REST_FIXES:
        return motion
    lasted = newest.time_utc - still[-1].time_utc
    if lasted < REST_S:
        return motion
    return replace(motion, phase=Phase.LANDED, since_utc=still[-1].time_utc, rest=newest)


def _still(motion: Motion) -> list[Fix]:
    """The newest fixes that stayed in one place and at one height, the newest first; none where
    their place is not known."""
    newest = motion.window[-1]
    still: list[Fix] = []
    for fix in reversed(motion.window):
        reach = REST_ACROSS_M + fix.uncertainty_m + newest.uncertainty_m
        if (
            not fix.placed
            or abs(_height(fix) - _height(newest)) > REST_BAND_M
            or distance_m(
                fix.latitude_deg, fix.longitude_deg, newest.latitude_deg, newest.longitude_deg
            )
            > reach
        ):
            break
        still.append(fix)
    return still


def _on_the_ground(settings: FlightSettings, motion: Motion) -> Motion:
    low = _climb_begin(settings, motion)
    return motion if low is None else _launched(motion, low)
