"""Up and down: height against time for each part of a simulated flight.

Each part is a curve of knots: seconds since its beginning, and metres above sea level.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.atmosphere import SEA_LEVEL_DENSITY_KGM3, density, gravity_ms2
from groundstation.simulation.randomness import wandering
from groundstation.simulation.settings import FlightStatistics

Array = NDArray[np.float64]

STEP_M: Final = 10.0  # own choice: two seconds of ascent
SLOWEST_MS: Final = 0.25  # own choice, so that it arrives
TROPOPAUSE_LOG: Final = 1.2
"""ln(rho0/rho) near 11 km: recorded descent rates drift above it, hardly below (study)."""


@dataclass(frozen=True, slots=True)
class Curve:
    """Knots of a part of the flight; ``time_s`` begins at 0 and increases. Shapes (knots,)."""

    time_s: Array
    altitude_m: Array

    @property
    def duration_s(self) -> float:
        return float(self.time_s[-1])


def heights(low_m: float, high_m: float) -> Array:
    """Heights from ``low_m`` to ``high_m``, both included, about ``STEP_M`` apart."""
    count = max(math.ceil((high_m - low_m) / STEP_M), 1) + 1
    return np.linspace(low_m, high_m, count)


def log_density_ratio(altitude_m: Array) -> Array:
    """ln(rho0 / rho) in the standard atmosphere."""
    return np.log(SEA_LEVEL_DENSITY_KGM3 / density(altitude_m))


def climb(
    rng: np.random.Generator,
    numbers: FlightStatistics,
    *,
    rate_ms: float,
    ground_m: float,
    top_m: float,
    levelling_m: float = 0.0,
) -> Curve:
    """The ascent from ground to ``top_m``, slowing down over the last ``levelling_m``."""
    z = heights(ground_m, top_m)
    trend = float(rng.normal(numbers.ascent_trend, numbers.ascent_trend_sd))
    step = float(z[1] - z[0])
    wander = wandering(rng, z.size, step, numbers.ascent_wander_m, numbers.ascent_wander)
    rate = rate_ms * np.exp(trend * (z - ground_m) / 30_000.0 + wander)
    if levelling_m > 0.0:
        rate = rate * np.minimum((top_m - z) / levelling_m + 0.04, 1.0)
    pace = np.maximum(rate, SLOWEST_MS)
    seconds = np.diff(z) * 2.0 / (pace[1:] + pace[:-1])
    return Curve(np.concatenate(([0.0], np.cumsum(seconds))), z)


def hover(rng: np.random.Generator, *, altitude_m: float, duration_s: float) -> Curve:
    """A float: it bobs by some tens of metres, with the buoyancy period of the stratosphere.

    About five minutes, 2 pi / N with N = 0.02 1/s (any meteorology textbook).
    """
    t = np.arange(0.0, max(duration_s, 2.0), 1.0)
    bob = float(rng.uniform(15.0, 45.0)) * np.sin(2.0 * np.pi * t / float(rng.uniform(270, 350)))
    drift = wandering(rng, t.size, 1.0, 600.0, 25.0)
    return Curve(t, altitude_m + bob + drift - drift[0])


def sink(rng: np.random.Generator, *, top_m: float, ground_m: float, rate_ms: float) -> Curve:
    """A slow descent under a balloon that leaks: about constant speed, more towards the ground."""
    z = heights(ground_m, top_m)[::-1]
    step = float(z[0] - z[1])
    pace = rate_ms * np.exp(wandering(rng, z.size, step, 2_000.0, 0.08))
    pace = pace * (1.4 - 0.6 * (z - ground_m) / max(top_m - ground_m, 1.0))
    seconds = step * 2.0 / (pace[1:] + pace[:-1])
    return Curve(np.concatenate(([0.0], np.cumsum(seconds))), z)


def draw_descent_rate(rng: np.random.Generator, numbers: FlightStatistics) -> float:
    """A sea-level descent rate in m/s out of the three kinds of gear."""
    weight, median, spread = (
        np.array(column) for column in zip(*numbers.descent_modes, strict=True)
    )
    mode = int(rng.choice(weight.size, p=weight / weight.sum()))
    return float(median[mode] * math.exp(spread[mode] * float(rng.standard_normal())))


def descend(
    rng: np.random.Generator,
    numbers: FlightStatistics,
    *,
    top_m: float,
    ground_m: float,
    rate_ms: float,
) -> Curve:
    """The descent from rest at ``top_m`` under something that falls ``rate_ms`` at sea level.

    With x the depth and V the terminal speed there, d(v^2)/dx = 2 g (1 - v^2/V^2), exact in each
    step. V = k sqrt(rho0/rho) (Knacke, NWC TP 6575, ch. 5), k as ``FlightStatistics`` says.
    """
    z = heights(ground_m, top_m)[::-1]
    step = float(z[0] - z[1])
    thin = log_density_ratio(z)
    k = np.log(rate_ms) + _drag_trend(rng, numbers, thin, rate_ms)
    for sd, length in numbers.descent_wander:
        k = k + wandering(rng, z.size, step, length, sd)
    deficit, depth = float(rng.uniform(*numbers.opening)), float(rng.uniform(*numbers.opening_m))
    k = k - deficit * np.exp(-(top_m - z) / depth)
    terminal = np.exp(k + 0.5 * thin)
    low = np.clip(1.0 - (z - ground_m) / 2_000.0, 0.0, 1.0)
    air = low * wandering(rng, z.size, step, 400.0, numbers.thermals_ms)
    pace = np.maximum(_mean_speed(terminal, gravity_ms2(z), step) + air[1:], SLOWEST_MS)
    return Curve(np.concatenate(([0.0], np.cumsum(step / pace))), z)


def _drag_trend(
    rng: np.random.Generator, numbers: FlightStatistics, thin: Array, rate_ms: float
) -> Array:
    slope = float(rng.normal(*numbers.descent_slope))
    free = float(rng.normal(0.0, numbers.descent_trend))
    above = 0.3 * np.log1p(np.exp((thin - TROPOPAUSE_LOG) / 0.3))
    return above * (free - slope * math.log(rate_ms / numbers.descent_pivot_ms))


def _mean_speed(terminal_ms: Array, gravity: Array, step_m: float) -> Array:
    """Mean speed over each step of a fall from rest; shape (knots - 1,).

    While it still gathers speed the time of a step is V/g (artanh v1/V - artanh v0/V), exact.
    """
    now, out = 0.0, []
    for goal, g in zip(terminal_ms[1:].tolist(), gravity[1:].tolist(), strict=True):
        square = goal * goal
        then = math.sqrt(square + (now * now - square) * math.exp(-2.0 * g * step_m / square))
        if now < 0.9 * goal and then < goal:
            out.append(step_m / (goal / g * (math.atanh(then / goal) - math.atanh(now / goal))))
        else:
            out.append(0.5 * (now + then))
        now = then
    return np.array(out)
