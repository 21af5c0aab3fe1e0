"""The wind of an invented day: a jet, a boundary layer, a stratosphere, layers, and a change.

Speeds are those of the air towards east (u) and north (v), in m/s, over height in metres above sea
level.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groundstation.simulation.randomness import about, wandering
from groundstation.simulation.settings import WindStatistics

Array = NDArray[np.float64]

STEP_M: Final = 50.0  # own choice: an eighth of the shortest length of change
TOP_M: Final = 46_000.0  # above any burst
LOW_LEVEL_M: Final = 2_000.0  # own choice: about the mixed layer by day


@dataclass(frozen=True, slots=True, kw_only=True)
class WindColumn:
    """Wind over height as first met, and how it comes to differ; all arrays shape (heights,).

    ``change_sd_ms`` is what the change was drawn with.
    """

    altitude_m: Array
    u_ms: Array
    v_ms: Array
    change_u_ms: Array
    change_v_ms: Array
    change_sd_ms: float
    memory_s: float

    def at(self, altitude_m: ArrayLike, elapsed_s: ArrayLike) -> tuple[Array, Array]:
        """Wind at heights, ``elapsed_s`` after that height was first passed (0: as first met).

        Shapes of the inputs. The change grows as sqrt(1 - exp(-t / memory)).
        """
        z = np.asarray(altitude_m, dtype=float)
        grown = np.sqrt(1.0 - np.exp(-np.asarray(elapsed_s, dtype=float) / self.memory_s))
        u = np.interp(z, self.altitude_m, self.u_ms)
        v = np.interp(z, self.altitude_m, self.v_ms)
        du = np.interp(z, self.altitude_m, self.change_u_ms)
        dv = np.interp(z, self.altitude_m, self.change_v_ms)
        return u + grown * du, v + grown * dv


def draw_wind(rng: np.random.Generator, numbers: WindStatistics, ground_m: float) -> WindColumn:
    """Draw the wind column of a day over ground at ``ground_m``."""
    low = math.floor((ground_m - 500.0) / STEP_M) * STEP_M
    z = np.arange(low, TOP_M, STEP_M)
    agl = np.maximum(z - ground_m, 0.0)
    along, toward = _troposphere(rng, numbers, z, agl)
    zonal = float(rng.normal(0.0, numbers.stratosphere_ms))
    u = along * np.sin(toward) + zonal * np.clip((z - 18_000.0) / 12_000.0, 0.0, 1.5)
    v = along * np.cos(toward)
    for sd, length in (
        (numbers.layers_ms, numbers.layers_length_m),
        (numbers.fine_ms, numbers.fine_length_m),
    ):
        rooted = np.minimum(0.3 + agl / 1_500.0, 1.0)
        u = u + rooted * wandering(rng, z.size, STEP_M, length, sd)
        v = v + rooted * wandering(rng, z.size, STEP_M, length, sd)
    changed = about(rng, numbers.change_ms, numbers.change_spread)
    length = float(rng.uniform(*numbers.change_length_m))
    near = np.clip(1.0 - agl / LOW_LEVEL_M, 0.0, 1.0)
    factor = 1.0 + (numbers.change_low_factor - 1.0) * near
    return WindColumn(
        altitude_m=z,
        u_ms=u,
        v_ms=v,
        change_u_ms=factor * wandering(rng, z.size, STEP_M, length, changed),
        change_v_ms=factor * wandering(rng, z.size, STEP_M, length, changed),
        change_sd_ms=changed,
        memory_s=numbers.change_memory_s,
    )


def _troposphere(
    rng: np.random.Generator, numbers: WindStatistics, z: Array, agl: Array
) -> tuple[Array, Array]:
    """Speed, and the direction it blows towards in radians from north.

    A power law of exponent 1/7 near the ground and a turning of about 25 degrees through the
    boundary layer are common practice, no source.
    """
    surface = about(rng, numbers.surface_ms, 0.35)
    core = about(rng, numbers.jet_ms, numbers.jet_spread)
    core_m = float(rng.normal(numbers.jet_m, 900.0))
    heading = math.radians(float(rng.normal(82.0, 30.0)))
    turning = math.radians(float(rng.normal(-25.0, 8.0)))
    width = np.where(z < core_m, 5_200.0, 4_300.0)
    jet = core * np.exp(-(((z - core_m) / width) ** 2))
    low = surface * (np.minimum(agl + 2.0, 1_000.0) / 10.0) ** (1.0 / 7.0)
    fading = np.exp(-np.maximum(agl - 4_000.0, 0.0) / 9_000.0)
    return low * fading + jet, heading + turning * np.exp(-agl / 500.0)
