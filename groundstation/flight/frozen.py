"""Heights that stand still: a receiver at its ceiling goes on telling the last height it knew.

A balloon that floats bobs by tens of metres, so a height that is the same to the metre while the
place moves on is none.
"""

from dataclasses import replace
from typing import Final

from groundstation.flight.lead import ALIKE_M
from groundstation.flight.state import Motion
from groundstation.flight.track import Track
from groundstation.physics.geodesy import distance_m
from groundstation.records import Fix, Phase

FIXES: Final = 4  # own choice: three alike happen by rounding, four hardly
LASTS_S: Final = 90.0  # own choice: longer than a balloon pauses at an inversion
MOVED_MS: Final = 1.0  # own choice: less is a receiver that lies on the ground
ABOVE_LAUNCH_M: Final = 3_000.0  # own choice: no receiver's ceiling is lower, and hills are


def frozen(motion: Motion, fix: Fix) -> bool:
    """Whether the altitude of ``fix`` is one of those."""
    height = fix.altitude_m
    if height is None or motion.phase not in (Phase.ASCENT, Phase.FLOAT, Phase.DESCENT):
        return False
    if motion.frozen_m is not None:
        return abs(height - motion.frozen_m) < ALIKE_M
    launch = motion.launch
    if launch is not None and height < (launch.altitude_m or 0.0) + ABOVE_LAUNCH_M:
        return False
    same = _same(motion, height)
    if len(same) < FIXES - 1 or fix.time_utc - same[0].time_utc < LASTS_S:
        return False
    moved = distance_m(
        same[0].latitude_deg, same[0].longitude_deg, fix.latitude_deg, fix.longitude_deg
    )
    return moved > MOVED_MS * (fix.time_utc - same[0].time_utc)


def without_frozen(motion: Motion, fix: Fix) -> tuple[Motion, Fix]:
    """The motion with heights like that of ``fix`` left out, all but the first, and ``fix``
    without one."""
    height = fix.altitude_m
    bare = replace(fix, altitude_m=None)
    if height is None or motion.frozen_m is not None:
        return motion, bare
    same = _same(motion, height)
    since = same[0].time_utc
    points = tuple(
        p._replace(altitude_m=None)
        if p.altitude_m is not None and p.time_utc > since and abs(p.altitude_m - height) < ALIKE_M
        else p
        for p in motion.track.points
    )
    window = tuple(fix for fix in motion.window if fix not in same[1:])
    track = Track(points[:-1], points[-1]) if points else motion.track
    return replace(motion, window=window, track=track, frozen_m=height), bare


def _same(motion: Motion, height_m: float) -> list[Fix]:
    """The newest fixes in a row at that height, oldest first."""
    found: list[Fix] = []
    for fix in reversed(motion.window):
        if fix.altitude_m is None or abs(fix.altitude_m - height_m) >= ALIKE_M:
            break
        found.append(fix)
    return found[::-1]
