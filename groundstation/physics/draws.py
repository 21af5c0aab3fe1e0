"""Common random numbers: the same draws for every estimate, so that the ensemble does not jitter.

All draws come in pairs of opposite sign, and the processes over height are tied to the fixed
layers of ``physics.layers``: as long as nothing new is known, a member stays where it is.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.layers import COUNT, STEP_M

Array = NDArray[np.float64]

SEED: Final = 20_240_229  # any number; it is fixed so that nothing jitters
MOST_PIECES: Final = 256  # own choice: 77 km of descent in pieces of 300 m


def wander(normals: Array, length_m: float) -> Array:
    """A unit Ornstein-Uhlenbeck process over the layers from white draws, shape (n, COUNT)."""
    keep = np.exp(-STEP_M / length_m)
    fresh = np.sqrt(1.0 - keep * keep)
    out = np.empty_like(normals)
    out[:, 0] = normals[:, 0]
    for k in range(1, COUNT):
        out[:, k] = keep * out[:, k - 1] + fresh * normals[:, k]
    return out


@dataclass(frozen=True, slots=True)
class Draws:
    """Unit draws for ``half`` members; the other half mirrors them.

    Each is for one thing only: two effects that share a draw would go together in all members.
    ``fall_wander``, ``east``, ``north``, ``east_long``, ``north_long`` (half, COUNT) are processes
    over height; ``noise`` (3, half, MOST_PIECES) is that of the observations: of the fall rate, of
    the east and of the north wind; ``burst`` and ``kind`` (half,) are uniform in (0, 1);
    ``stretch`` (half,) turns a normal into a Student t. All others are standard normal, (half,).
    """

    half: int
    fall_level: Array
    fall_trend: Array
    fall_wander: Array
    east: Array
    north: Array
    east_long: Array
    north_long: Array
    noise: Array
    ground: Array
    point_east: Array
    point_north: Array
    touchdown_way: Array
    touchdown_time: Array
    climb: Array
    float_time: Array
    float_east: Array
    float_north: Array
    burst: Array
    kind: Array
    stretch: Array


@lru_cache(maxsize=8)
def draws(
    members: int, fall_wander_m: float, wind_m: float, wind_long_m: float, degrees: float
) -> Draws:
    """The draws for an ensemble of ``members``; correlation lengths in metres."""
    half = members // 2
    rng = np.random.default_rng(SEED)

    def white() -> Array:
        return rng.standard_normal((half, COUNT))

    def strata(columns: int) -> Array:
        """Standard normals, each column spread evenly over its distribution."""
        rows = [rng.permutation(half) for _ in range(columns)]
        return even_normals(half)[np.array(rows)]

    level, trend = strata(2)
    wandering = [
        wander(white(), length_m)
        for length_m in (fall_wander_m, wind_m, wind_m, wind_long_m, wind_long_m)
    ]
    noise = rng.standard_normal((3, half, MOST_PIECES))
    ground, point_east, point_north, way, time, climb, float_time, float_east = strata(8)
    burst = (rng.permutation(half) + 0.5) / half
    stretch = np.sqrt(degrees / rng.chisquare(degrees, half))
    # New rows come last: each takes from one generator, and the others stay as they were.
    (float_north,) = strata(1)
    kind = (rng.permutation(half) + 0.5) / half
    return Draws(
        half=half,
        fall_level=level,
        fall_trend=trend,
        fall_wander=wandering[0],
        east=wandering[1],
        north=wandering[2],
        east_long=wandering[3],
        north_long=wandering[4],
        noise=noise,
        ground=ground,
        point_east=point_east,
        point_north=point_north,
        touchdown_way=way,
        touchdown_time=time,
        climb=climb,
        float_time=float_time,
        float_east=float_east,
        float_north=float_north,
        burst=burst,
        kind=kind,
        stretch=stretch,
    )


@lru_cache(maxsize=8)
def even_normals(count: int) -> Array:
    """Standard normals (count,), ascending, each the middle of an equal share; read-only."""
    found = normal_quantile((np.arange(count) + 0.5) / count)
    found.setflags(write=False)
    return found


def normal_quantile(p: Array) -> Array:
    """Inverse of the standard normal distribution, by bisection on ``erf`` (exact to 1e-12)."""
    low, high = np.full_like(p, -9.0), np.full_like(p, 9.0)
    for _ in range(64):
        middle = (low + high) / 2.0
        below = normal_cdf(middle) < p
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return (low + high) / 2.0


def normal_cdf(x: Array) -> Array:
    """Standard normal distribution function (Abramowitz and Stegun 7.1.26, error below 1.5e-7)."""
    z = np.abs(x) / np.sqrt(2.0)
    t = 1.0 / (1.0 + 0.3275911 * z)
    poly = t * (
        0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429)))
    )
    upper = 0.5 * poly * np.exp(-z * z)
    return np.asarray(np.where(x >= 0, 1.0 - upper, upper))
