"""Before launch, ascent, float, descent, landed: read off the heights.

It must do at one fix a second as at one in five minutes, so it looks at fixes at least
``SPACING_S`` apart, and at the newest.
"""

from dataclasses import replace
from statistics import median

from groundstation.flight import unseen
from groundstation.flight.state import Burst, Motion
from groundstation.flight.track import Point
from groundstation.physics.geodesy import distance_m
from groundstation.records import Fix, Phase

SPACING_S = 20.0
WINDOW = 32
LAUNCH_GAIN_M = 100.0
LAUNCH_CLIMB_MS = 0.7
GROUND_NOISE_M = 25.0
NEAR_GROUND_M = 60.0
UNSEEN_DROP_M = 500.0
FALL_DROP_M = 50.0
FALL_MS = 2.0
DOUBT_DROP_M = 200.0
FLOAT_S = 480.0
FLOAT_MS = 0.5
FLOAT_BAND_M = 300.0
REST_S = 60.0
REST_FIXES = 3
REST_ACROSS_M = 60.0
REST_BAND_M = 40.0
NEW_FLIGHT_GAP_S = 6 * 3600.0
NEW_FLIGHT_CLIMB_M = 300.0


def moved(motion: Motion, fix: Fix) -> Motion:
    """Take one believed fix into the motion. A late one only joins the track."""
    point = Point(fix.time_utc, fix.latitude_deg, fix.longitude_deg, fix.altitude_m)
    if fix.late:
        return replace(motion, track=motion.track.extended(point))
    if motion.last is not None and fix.time_utc - motion.last.time_utc > NEW_FLIGHT_GAP_S:
        motion = Motion()
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
    )
    if not motion.window or fix.altitude_m is None:
        return unseen.moved(motion)
    match motion.phase:
        case Phase.PRELAUNCH:
            return _before_launch(motion)
        case Phase.ASCENT | Phase.FLOAT:
            return _aloft(motion)
        case Phase.DESCENT:
            return _falling(motion)
        case Phase.LANDED:
            return _on_the_ground(motion)


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


def _climb_begin(window: tuple[Fix, ...]) -> Fix | None:
    """The last low fix before a climb that is beyond doubt, or None."""
    if len(window) < 2:
        return None
    lowest = min(map(_height, window))
    low = next(fix for fix in reversed(window) if _height(fix) <= lowest + GROUND_NOISE_M)
    newest = window[-1]
    gained = _height(newest) - _height(low)
    since = newest.time_utc - low.time_utc
    if gained < LAUNCH_GAIN_M or since < SPACING_S / 2 or gained / since < LAUNCH_CLIMB_MS:
        return None
    after = [fix for fix in window if fix.time_utc >= low.time_utc]
    if len(after) < 2:
        return None
    if len(after) < 3 and (since < 30.0 or gained < 2 * LAUNCH_GAIN_M):
        return None
    return _left(window, lowest) if _height(after[-1]) > _height(after[-2]) else None


def _left(window: tuple[Fix, ...], lowest_m: float) -> Fix:
    """The last fix at the height of the ground, which is the middle of those near the lowest: one
    that is too low by itself may be long before the launch."""
    ground = median(_height(fix) for fix in window if _height(fix) <= lowest_m + NEAR_GROUND_M)
    return next(fix for fix in reversed(window) if _height(fix) <= ground + GROUND_NOISE_M)


def _before_launch(motion: Motion) -> Motion:
    low = _climb_begin(motion.window)
    if low is not None:
        return replace(
            motion,
            phase=Phase.ASCENT,
            since_utc=low.time_utc,
            launch=low,
            highest=motion.window[-1],
        )
    # The station was started in the middle of a fall; on the ground, heights only seem to drop.
    top = motion.highest
    if top is not None and _height(top) - _height(motion.window[-1]) > UNSEEN_DROP_M:
        return _burst(motion) if _fell(motion) else motion
    return motion


def _fell(motion: Motion) -> bool:
    """Two fixes one below the other after the highest one, falling as only a fall does."""
    top = motion.highest
    if top is None:
        return False
    after = [fix for fix in motion.window[-3:] if fix.time_utc > top.time_utc]
    if len(after) < 2 or not _height(after[-1]) < _height(after[-2]) < _height(top):
        return False
    newest = after[-1]
    if _height(top) - _height(newest) < FALL_DROP_M:
        return False
    return _rate(top, newest) < -0.75 * FALL_MS or _recent_rate(motion.window) < -FALL_MS


def looks_falling(motion: Motion) -> bool:
    """Whether the newest fix speaks of a fall, which one more must confirm before it is told."""
    top, last = motion.highest, motion.last
    if motion.phase not in (Phase.ASCENT, Phase.FLOAT) or top is None or last is None:
        return motion.phase is Phase.DESCENT
    if last.altitude_m is None or top is last:
        return False
    dropped = _height(top) - last.altitude_m
    return dropped > DOUBT_DROP_M and _rate(top, last) < -FALL_MS


def _burst(motion: Motion) -> Motion:
    top = motion.highest
    assert top is not None
    burst = Burst(time_utc=top.time_utc, altitude_m=_height(top))
    return replace(motion, phase=Phase.DESCENT, since_utc=top.time_utc, burst=burst)


def _aloft(motion: Motion) -> Motion:
    if _fell(motion):
        return _burst(motion)
    newest = motion.window[-1]
    span = [fix for fix in motion.window if newest.time_utc - fix.time_utc <= 1.5 * FLOAT_S]
    heights = [_height(fix) for fix in span]
    lasting = newest.time_utc - span[0].time_utc >= FLOAT_S
    level = max(heights) - min(heights) < FLOAT_BAND_M and abs(_rate(span[0], newest)) < FLOAT_MS
    if motion.phase is Phase.ASCENT and lasting and level:
        if motion.launch is None or _height(newest) > _height(motion.launch) + 1_000.0:
            return replace(motion, phase=Phase.FLOAT, since_utc=span[0].time_utc)
        return _rested(motion)
    if motion.phase is Phase.FLOAT and lasting and _rate(span[0], newest) > 2 * FLOAT_MS:
        return replace(motion, phase=Phase.ASCENT, since_utc=span[0].time_utc)
    return motion


def _falling(motion: Motion) -> Motion:
    rested = _rested(motion)
    if rested is not motion or motion.burst is None:
        return rested
    newest = motion.window[-1]
    low = min((f for f in motion.window if f.time_utc >= motion.burst.time_utc), key=_height)
    climbed = _height(newest) - _height(low)
    if climbed > NEW_FLIGHT_CLIMB_M and _recent_rate(motion.window) > LAUNCH_CLIMB_MS:
        return replace(motion, phase=Phase.ASCENT, since_utc=low.time_utc)
    return motion


def _rested(motion: Motion) -> Motion:
    """Landed, once several fixes over a minute stayed in one place and at one height."""
    newest = motion.window[-1]
    still = []
    for fix in reversed(motion.window):
        reach = REST_ACROSS_M + fix.uncertainty_m + newest.uncertainty_m
        if (
            abs(_height(fix) - _height(newest)) > REST_BAND_M
            or distance_m(
                fix.latitude_deg, fix.longitude_deg, newest.latitude_deg, newest.longitude_deg
            )
            > reach
        ):
            break
        still.append(fix)
    lasted = newest.time_utc - still[-1].time_utc
    if len(still) < REST_FIXES or lasted < REST_S:
        return motion
    return replace(motion, phase=Phase.LANDED, since_utc=still[-1].time_utc, rest=newest)


def _on_the_ground(motion: Motion) -> Motion:
    rest = motion.rest
    newest = motion.last
    assert rest is not None
    assert newest is not None
    climbing = _climb_begin(motion.window)
    if climbing is not None and _height(newest) - _height(rest) > NEW_FLIGHT_CLIMB_M:
        fresh = tuple(fix for fix in motion.window if fix.time_utc >= climbing.time_utc)
        again = Motion(first=climbing, last=newest, highest=newest, window=fresh)
        track = again.track
        for fix in fresh:
            track = track.extended(
                Point(fix.time_utc, fix.latitude_deg, fix.longitude_deg, fix.altitude_m)
            )
        return replace(
            again, track=track, phase=Phase.ASCENT, since_utc=climbing.time_utc, launch=climbing
        )
    return motion
