"""Heights as evidence: of few of the places, or without one."""

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.courses import Courses

Array = NDArray[np.float64]

HEIGHT_SD_M: Final = 100.0  # own choice: flights are given by few numbers
HEIGHT_DEGREES: Final = 4.0  # own choice: tails for a height that is wrong
MOST_HEIGHTS: Final = 24  # own choice: more cost time and add little
# A standard normal in nine steps: what all heights by pressure are off by together.
TOGETHER: Final = tuple(
    (by, math.exp(-(by**2) / 2.0) * 0.5 / math.sqrt(2.0 * math.pi))
    for by in np.arange(-2.0, 2.1, 0.5)
)


class Told(NamedTuple):
    """A height at a moment, in seconds as of ``Evidence``; ``sd_m`` is what all like it are off by
    together."""

    at_s: float
    altitude_m: float
    sd_m: float


def few(heights: Sequence[Told]) -> list[Told]:
    """The newest, the highest, and of the others as many as ``MOST_HEIGHTS``, evenly."""
    if len(heights) <= MOST_HEIGHTS:
        return list(heights)
    top = max(range(len(heights)), key=lambda n: heights[n].altitude_m)
    evenly = np.linspace(0, len(heights) - 1, MOST_HEIGHTS).round().astype(int)
    return [heights[n] for n in sorted({*evenly.tolist(), top})]


def log_likelihood(courses: Courses, heights: Sequence[Told]) -> Array:
    """Of heights that were told, for each flight; (n,)."""
    at, height_m, together = np.array(heights).T
    off = courses.height_m(at) - height_m
    parts = [
        math.log(share)
        - HEIGHT_DEGREES
        * np.log1p(((off - by * together) / HEIGHT_SD_M) ** 2 / HEIGHT_DEGREES).sum(axis=1)
        / 2.0
        for by, share in (TOGETHER if together.any() else ((0.0, 1.0),))
    ]
    return np.asarray(np.logaddexp.reduce(parts))
