"""When it came down, from the last that was heard of the fall: with a span, since it is seldom
heard at that moment itself."""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.layers import fall_path_m

Array = NDArray[np.float64]

GROUND_ROOM_M: Final = 120.0  # own choice: errors of terrain and height
LYING_MS: Final = 1.5
"""A fix so near to the ground's height lies there if it falls no faster until the next one: heights
that receivers tell jitter by some ten metres on a recorded flight."""

RATE_PIECE_M: Final = 300.0  # as pieces of the descent (physics/fall.py)
RATE_SD: Final = 0.12
"""How far the rate of the last piece may differ from that of what was not heard: own choice; within
a flight it wanders by 10 to 20 % (study of 27 recorded flights)."""

LEAST_SD_S: Final = 2.0  # own choice: clocks and packets are not better than that
NINETY: Final = 1.645  # two-sided 90 % of a standard normal distribution


@dataclass(frozen=True, slots=True, kw_only=True)
class Touchdown:
    """``span_utc`` holds it nine times of ten. ``above_m`` is how high above the ground it was last
    heard falling, ``rate_ms`` how fast it fell then; ``heard_utc`` is the first packet from the
    ground, None where there was none."""

    time_utc: float
    span_utc: tuple[float, float]
    above_m: float
    rate_ms: float
    heard_utc: float | None


def touchdown(
    time_utc: Array, altitude_m: Array, ground_m: float, ground_sd_m: float, *, lay: bool
) -> Touchdown | None:
    """Of a fall from its highest fix on, shapes (n,). ``lay`` tells that the last fixes are of the
    ground, at ``ground_m``. None where too little of the fall was heard."""
    # A last fix that is low is still one of the fall, where nothing is known to be of the ground.
    first_lying = _first_lying(time_utc, altitude_m, ground_m) if lay else len(time_utc)
    last = first_lying - 1
    if last < 1:
        return None
    path = fall_path_m(altitude_m[: last + 1])
    before = np.nonzero(altitude_m[: last + 1] >= altitude_m[last] + RATE_PIECE_M)[0]
    first = int(before[-1]) if len(before) else 0
    taken = float(time_utc[last] - time_utc[first])
    if taken <= 0.0 or path[first] - path[last] <= 0.0:
        return None
    reduced_ms = float(path[first] - path[last]) / taken
    left_m = max(float(path[last] - fall_path_m(ground_m)), 0.0)
    left_s = left_m / reduced_ms
    sd = math.hypot(RATE_SD * left_s, ground_sd_m / reduced_ms)
    sd = math.hypot(sd, LEAST_SD_S)
    heard = float(time_utc[first_lying]) if first_lying < len(time_utc) else None
    earliest, latest = float(time_utc[last]), math.inf if heard is None else heard
    if heard is None:
        # What was taken for the ground may be higher or lower than that.
        latest = earliest + left_s + 4.0 * sd

    def within(at: float) -> float:
        return min(max(at, earliest), latest)

    middle = earliest + left_s
    return Touchdown(
        time_utc=within(middle),
        span_utc=(within(middle - NINETY * sd), within(middle + NINETY * sd)),
        above_m=max(float(altitude_m[last]) - ground_m, 0.0),
        rate_ms=reduced_ms,
        heard_utc=heard,
    )


def _first_lying(time_utc: Array, altitude_m: Array, ground_m: float) -> int:
    """The index of the first fix from the ground, or how many there are."""
    for n in np.nonzero(altitude_m <= ground_m + GROUND_ROOM_M)[0]:
        if n == len(time_utc) - 1:
            return int(n)
        fell, took = altitude_m[n] - altitude_m[n + 1], time_utc[n + 1] - time_utc[n]
        if fell <= LYING_MS * took:
            return int(n)
    return len(time_utc)
