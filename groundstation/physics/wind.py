"""Winds met in the ascent, and how they have changed since.

Wind is the speed of the air towards east (u) and north (v), in m/s. A balloon drifts with the
air, so a fix-to-fix displacement is the mean wind over the heights passed.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.layers import COUNT, EDGE_M, MIDDLE_M, STEP_M, shares_m

Array = NDArray[np.float64]

SMOOTHING_M: Final = 400.0  # own choice: below the 1 km over which winds are alike
LONGEST_S: Final = 1_830.0
"""Two messages of a tracker that tells each quarter of an hour, one of them lost."""


@dataclass(frozen=True, slots=True)
class WindProfile:
    """Wind in each layer, shape (COUNT,), and the heights between which it was measured."""

    u_ms: Array
    v_ms: Array
    lowest_m: float
    highest_m: float

    def mean(self, low_m: Array, high_m: Array) -> tuple[Array, Array]:
        """Mean wind between heights; shapes of the inputs."""
        shares = shares_m(low_m, np.maximum(high_m, low_m + 1.0))
        shares = shares / shares.sum(axis=-1, keepdims=True)
        return shares @ self.u_ms, shares @ self.v_ms


@dataclass(frozen=True, slots=True)
class WindsAloft:
    """Winds that a forecast or a sounding gives, in each layer, shape (COUNT,).

    ``sd_ms`` is how far they are off, per component. ``name`` is what they are called in words.
    ``fall`` are (u, v) of the way down where a forecast has them change until then.
    """

    name: str
    u_ms: Array
    v_ms: Array
    lowest_m: float
    highest_m: float
    sd_ms: float
    fall: tuple[Array, Array] | None = None

    @property
    def changed_ms(self) -> tuple[Array, Array] | None:
        """By how much those of the way down are others."""
        return None if self.fall is None else (self.fall[0] - self.u_ms, self.fall[1] - self.v_ms)

    @classmethod
    def of(cls, name: str, height_m: Array, u_ms: Array, v_ms: Array, sd_ms: float) -> "WindsAloft":
        """From values at rising heights; the outermost go on beyond."""
        u, v = (np.interp(MIDDLE_M, height_m, values) for values in (u_ms, v_ms))
        return cls(name, u, v, float(height_m[0]), float(height_m[-1]), sd_ms)


def _smoother() -> Array:
    apart = MIDDLE_M[:, None] - MIDDLE_M[None, :]
    return np.exp(-0.5 * (apart / SMOOTHING_M) ** 2)


_SMOOTHER = _smoother()


def measured_profile(time_s: Array, x_m: Array, y_m: Array, altitude_m: Array) -> WindProfile:
    """The wind profile of a track in a local plane (metres east and north).

    Segments longer than half an hour say too little of any one height and are left out. Layers that
    no segment touched are interpolated; above and below the measured ones the nearest goes on.
    """
    dt = np.diff(time_s)
    use = (dt > 0) & (dt < LONGEST_S)
    low = np.minimum(altitude_m[1:], altitude_m[:-1])[use]
    high = np.maximum(altitude_m[1:], altitude_m[:-1])[use]
    dt = dt[use]
    if dt.size == 0:
        return WindProfile(np.zeros(COUNT), np.zeros(COUNT), np.inf, -np.inf)
    first = max(int((low.min() - EDGE_M[0]) // STEP_M), 0)
    last = min(int((high.max() - EDGE_M[0]) // STEP_M) + 1, COUNT)
    low = np.clip(low, EDGE_M[first], EDGE_M[last] - 1.0)
    high = np.maximum(high, low + 1.0)
    shares = np.clip(
        np.minimum(high[:, None], EDGE_M[first + 1 : last + 1])
        - np.maximum(low[:, None], EDGE_M[first:last]),
        0.0,
        None,
    )
    weight = shares / shares.sum(axis=1, keepdims=True)
    seconds = dt @ weight
    east = np.diff(x_m)[use] @ weight
    north = np.diff(y_m)[use] @ weight
    smoother = _SMOOTHER[:, first:last]
    near = smoother @ seconds
    found = near > 1e-3 * near.max()
    u = np.interp(MIDDLE_M, MIDDLE_M[found], (smoother @ east)[found] / near[found])
    v = np.interp(MIDDLE_M, MIDDLE_M[found], (smoother @ north)[found] / near[found])
    return WindProfile(u, v, float(low.min()), float(high.max()))
