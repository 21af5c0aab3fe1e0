"""Random draws of a simulated flight: each subject has its own stream.

A change of the tracker's interval then leaves the weather and the flight as they were.
"""

import math
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Stream(IntEnum):
    """Which subject a stream of random numbers belongs to."""

    PLAN = 0
    WIND = 1
    ASCENT = 2
    DESCENT = 3
    GUSTS = 4
    TRACKER = 5
    FORM = 6
    DRIVE = 7
    FORECAST = 8


def stream(seed: int, subject: Stream) -> np.random.Generator:
    """The generator of one subject of the flight ``seed`` (a whole number >= 0)."""
    return np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(int(subject),)))


def wandering(rng: np.random.Generator, count: int, step: float, length: float, sd: float) -> Array:
    """An Ornstein-Uhlenbeck process at ``count`` equal steps, stationary from the first one.

    ``step`` and ``length`` (its e-folding) are in the same unit. Source: the exact update of
    Gillespie 1996, Phys. Rev. E 54, 2084, eq. 1.9.
    """
    kick = rng.standard_normal(count)
    keep = math.exp(-step / length)
    scale = sd * math.sqrt(1.0 - keep * keep)
    values = [0.0] * count
    now = values[0] = sd * float(kick[0])
    for i, draw in enumerate(kick[1:].tolist(), start=1):
        values[i] = now = keep * now + scale * draw
    return np.array(values)


def about(rng: np.random.Generator, median: float, sd_of_ln: float) -> float:
    """One lognormal draw."""
    return median * math.exp(sd_of_ln * float(rng.standard_normal()))
