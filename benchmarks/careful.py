"""What a careful engineer would do: the own ascent's winds, and the last minute's fall rate scaled
with the root of the density. The landing estimate is measured against it."""

import math

import numpy as np

from benchmarks.tracks import Track
from groundstation.physics.layers import MIDDLE_M, SPEED_RATIO, shares_m
from groundstation.physics.wind import measured_profile

MINUTE_S = 60.0


def careful_error_m(track: Track, at: int) -> float:
    """How far it misses the landing, from the fix ``at`` in the descent."""
    x, y, gx, gy = track.xy()
    t, z, top = track.time_s, track.altitude_m, track.top
    before = min(max(top, int(np.searchsorted(t, t[at] - MINUTE_S))), at - 1)
    fall = (z[before] - z[at]) / (t[at] - t[before])
    up = slice(0, top + 1)
    winds = measured_profile(t[up], x[up], y[up], z[up])
    here = float(np.interp((z[at] + z[before]) / 2.0, MIDDLE_M, SPEED_RATIO))
    rate = max(fall, 0.5) / here
    ground = float(z[0]) if track.ground_given_m is None else track.ground_given_m
    down = shares_m(np.array([min(ground, z[at])]), np.array([z[at]]))[0] / (rate * SPEED_RATIO)
    return math.hypot(x[at] + float(down @ winds.u_ms) - gx, y[at] + float(down @ winds.v_ms) - gy)
