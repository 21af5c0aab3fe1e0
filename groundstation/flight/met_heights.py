"""How a flight went since its last place with a height, as heights without a place tell it."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.flight.heights import Level
from groundstation.flight.track_arrays import TrackArrays
from groundstation.physics.courses import COUNT, EDGE_M

Array = NDArray[np.float64]

NEAR_TOP_M: Final = 50.0  # own choice: ten seconds of a climb; a float bobs by more now and then
FLOATS_S: Final = 480.0  # as phases.FLOAT_S
SLOWEST_MS, FASTEST_MS = 0.3, 120.0  # own choices: slower is a float, and nothing falls faster


@dataclass(frozen=True, slots=True, kw_only=True)
class Met:
    """``climb_ms`` and ``fall_ms`` (COUNT,) are the rates at which it went through the layers, NaN
    where it did not; ``top_m`` is the highest that was heard, and ``room_s`` how long after that it
    may have climbed on (None while it climbs). ``floated_s`` is how long it stayed near the top."""

    climb_ms: Array
    fall_ms: Array
    top_m: float
    room_s: float | None
    floated_s: float


def longer(track: TrackArrays, levels: tuple[Level, ...]) -> TrackArrays:
    """The track with the heights after its end, at the last place that is known: for what counts
    heights and times alone."""
    count = len(levels)
    return replace(
        track,
        time_s=np.append(track.time_s, [level.time_utc for level in levels]),
        x_m=np.append(track.x_m, np.full(count, track.x_m[-1])),
        y_m=np.append(track.y_m, np.full(count, track.y_m[-1])),
        altitude_m=(high := np.append(track.altitude_m, [level.altitude_m for level in levels])),
        top=int(np.argmax(high)),
    )


def met(track: TrackArrays, levels: tuple[Level, ...]) -> Met:
    """Of the heights after the end of ``track``, of which there is one at least."""
    t = np.array([track.anchor_utc, *(level.time_utc for level in levels)])
    z = np.array([track.anchor_m, *(level.altitude_m for level in levels)])
    top = int(np.argmax(z))
    near = np.nonzero(z >= z[top] - NEAR_TOP_M)[0]
    first, last = int(near[0]), int(near[-1])
    floated = float(t[last] - t[first])
    fell = last < len(z) - 1
    return Met(
        climb_ms=_rates(t[: top + 1], np.maximum.accumulate(z[: top + 1])),
        fall_ms=_rates(-t[last + 1 :][::-1], np.maximum.accumulate(z[last + 1 :][::-1])),
        top_m=float(z[top]),
        room_s=float(t[last + 1] - t[last]) if fell else None,
        floated_s=floated if floated >= FLOATS_S else 0.0,
    )


def _rates(time_s: Array, height_m: Array) -> Array:
    """Speed through each layer, of heights that never go down; NaN where none was passed."""
    rates = np.full(COUNT, np.nan)
    if len(height_m) < 2 or height_m[-1] <= height_m[0]:
        return rates
    rises = np.append(True, np.diff(height_m) > 0.0)
    # Of what stays at one height for a while the end counts below, the begin above.
    low = np.clip(EDGE_M[:-1], height_m[0], height_m[-1])
    high = np.clip(EDGE_M[1:], height_m[0], height_m[-1])
    took = np.interp(high, height_m[rises], time_s[rises]) - np.interp(
        low, height_m[rises], time_s[rises]
    )
    passed = (high > low) & (took > 0.0)
    rates[passed] = np.clip((high - low)[passed] / took[passed], SLOWEST_MS, FASTEST_MS)
    return rates
