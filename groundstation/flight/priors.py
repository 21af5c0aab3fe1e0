"""What a whole flight may be like before anything of it was seen, written in standard normals.

Each column of a table of normals is one unknown of the flight. So a prior of any form is one
normal in another scale, and what is drawn, moved and weighed (``physics.tempering``) is always the
same.
"""

import math
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.flight.settings import PlanSettings
from groundstation.physics.courses import EDGE_M, MIDDLE_M, Courses
from groundstation.physics.draws import normal_cdf, normal_quantile
from groundstation.physics.fall import STEADY, FallModel

Array = NDArray[np.float64]

LAUNCH, CLIMB, CLIMB_TREND, TOP, FALL, FALL_TREND, FLOAT = range(7)
FIRST_WANDER: Final = 7  # the row after the seven single unknowns
CLIMB_MODES: Final = 3  # own choice: the slow parts of the wander move the end most
FALL_MODES: Final = 4  # own choice: see CLIMB_MODES
UNKNOWNS: Final = FIRST_WANDER + CLIMB_MODES + FALL_MODES

PLAN_DEGREES: Final = 4.0
"""Of the Student t that a plan is: people are wrong more often than they say (own choice)."""
PLAN_SCALE: Final = 1.0 / 1.1416
"""So that a plan's spread holds two thirds, as the person meant it, and the tails come beyond: the
quantile of that t at 0.84134 is 1.1416 (any table of it)."""

# The climbs of 19 recorded flights over their mean: quick below the tropopause, slow above it,
# quicker again. What is left of each is a trend of 0.12 in 15 km and a wander of 0.08.
_SHAPE_M: Final = (0.0, 9_000.0, 13_500.0, 18_000.0, 24_000.0, 30_000.0)
_SHAPE: Final = (1.04, 1.06, 0.94, 0.95, 1.02, 1.06)  # by those 19 climbs, over their mean
CLIMB_TREND_SD: Final = 0.12  # what those climbs leave
CLIMB_TREND_M: Final = 15_000.0  # the height of which that trend is told
CLIMB_WANDER_SD: Final = 0.08  # what those climbs leave
CLIMB_WANDER_M: Final = 4_000.0  # own choice: a few turns of the wander in a climb
# All kinds of fall together (``physics.fall.KINDS``), with what the fewer modes leave out.
FALL_TREND_SD: Final = 0.10
FALL_WANDER_SD: Final = 0.10  # see above
FALL_WANDER_M: Final = 6_000.0  # as in each kind
FLOATING: Final = 0.03
"""How many flights float before they fall, and for how long (own choice: none of 27 recorded ones
did, and those whose balloon leaks or is too full do)."""
FLOAT_S: Final = 3_600.0  # own choice: mean length of a float, of which few are known
LEAST_RISE_M: Final = 1_000.0  # own choice: nothing bursts right above the launch
HIGHEST_M: Final = 44_000.0  # own choice: latex bursts lower (from memory)


def _modes(sd: float, length_m: float, count: int) -> Array:
    """The ``count`` largest modes of a wander over the layers, (count, COUNT), which as many
    standard normals make one of."""
    kernel = sd**2 * np.exp(-np.abs(MIDDLE_M[:, None] - MIDDLE_M[None, :]) / length_m)
    value, vector = np.linalg.eigh(kernel)
    return np.asarray((vector * np.sqrt(np.maximum(value, 0.0))).T[::-1][:count])


def _whole(modes: Array, sd: float) -> Array:
    """With what the smaller modes would have added given to those kept, so that the spread in each
    layer is right."""
    return np.asarray(modes * sd / np.sqrt((modes**2).sum(axis=0).mean()))


_CLIMB_SHAPE: Final = np.log(np.interp(MIDDLE_M, _SHAPE_M, _SHAPE))


@cache
def _wanders() -> tuple[Array, Array]:
    """Those of a climb and of a fall. A climb is through many layers, in whose time the smaller
    modes nearly cancel; the end of a fall is through few. Made when first asked for: they take
    longer than all else that is made at a start."""
    climb = _modes(CLIMB_WANDER_SD, CLIMB_WANDER_M, CLIMB_MODES)
    fall = _modes(FALL_WANDER_SD, FALL_WANDER_M, FALL_MODES)
    return climb, _whole(fall, FALL_WANDER_SD)


@dataclass(frozen=True, slots=True, kw_only=True)
class Beginning:
    """Where the course of a flight begins to be unknown: launched at ``from_m`` at some time
    between two, both in seconds."""

    early_s: float
    late_s: float
    from_m: float
    ground_m: float


@dataclass(frozen=True, slots=True)
class Prior:
    """Flights as the plan, what is usual, and the beginning let expect them."""

    begin: Beginning
    plan: PlanSettings
    fall: FallModel
    unknowns: int = UNKNOWNS

    @property
    def ground_m(self) -> float:
        return self.begin.ground_m

    @classmethod
    def of(cls, plan: PlanSettings, begin: Beginning) -> "Prior":
        rate = plan.descent_rate_ms
        fall = STEADY if rate is None else STEADY.planned(rate, plan.descent_rate_sd_ms)
        return cls(begin, plan, fall)

    def courses(self, normals: Array, ground_m: Array | None = None) -> Courses:
        """The flights that a table of standard normals (n, UNKNOWNS) stands for. ``ground_m`` (n,)
        where each comes down at a height of its own."""
        plan, begin = self.plan, self.begin
        share = normal_cdf(normals[:, LAUNCH])
        heavy = PLAN_SCALE * student(normals[:, (CLIMB, TOP, FALL)], PLAN_DEGREES)
        by_climb, by_top, by_fall = heavy.T
        climb = np.log(plan.ascent_rate_ms)
        climb = climb + plan.ascent_rate_sd_ms / plan.ascent_rate_ms * by_climb[:, None]
        wander = FIRST_WANDER + CLIMB_MODES
        # The rate is told as the mean of the climb, so what differs within it has none of its own.
        rising = self._about_mean(MIDDLE_M / CLIMB_TREND_M)
        climb = climb + CLIMB_TREND_SD * normals[:, [CLIMB_TREND]] * rising + _CLIMB_SHAPE
        climb_wander, fall_wander = _wanders()
        climb = climb + normals[:, FIRST_WANDER:wander] @ self._about_mean(climb_wander)
        level, trend = self.fall.factors(MIDDLE_M)
        fall = self.fall.mean(MIDDLE_M) + self.fall.level_sd * by_fall[:, None] * level
        fall = fall + FALL_TREND_SD * normals[:, [FALL_TREND]] * trend
        fall = fall + normals[:, wander:UNKNOWNS] @ fall_wander
        return Courses.of(
            launch_s=begin.early_s + share * (begin.late_s - begin.early_s),
            from_m=begin.from_m,
            top_m=self._tops(by_top),
            float_s=_floats(normals[:, FLOAT]),
            climb_ms=np.exp(np.clip(climb, -1.0, 3.0)),
            fall_rate_ms=np.exp(np.clip(fall, -0.5, 4.0)),
            ground_m=begin.ground_m if ground_m is None else ground_m,
        )

    def _about_mean(self, rows: Array) -> Array:
        """Without their mean over the climb."""
        low, high = self.begin.from_m, self.plan.burst_altitude_m
        climbed = (low < MIDDLE_M) & (high > MIDDLE_M)
        if not climbed.any():
            return rows
        return np.asarray(rows - rows[..., climbed].mean(axis=-1, keepdims=True))

    def _tops(self, heavy: Array) -> Array:
        plan = self.plan
        top = plan.burst_altitude_m + plan.burst_altitude_sd_m * heavy
        low = self.begin.from_m + LEAST_RISE_M
        return np.clip(top, min(low, HIGHEST_M - 1.0), min(HIGHEST_M, EDGE_M[-1] - 1.0))


def student(normals: Array, degrees: float) -> Array:
    """Standard normals as a Student t, one for one (Abramowitz and Stegun 26.7.5)."""
    x = np.clip(normals, -6.0, 6.0)
    first = (x**3 + x) / (4.0 * degrees)
    second = (5.0 * x**5 + 16.0 * x**3 + 3.0 * x) / (96.0 * degrees**2)
    return np.asarray(x + first + second)


def _floats(normals: Array) -> Array:
    """Seconds afloat: none for most."""
    floating = normals > _FLOATING_FROM
    share = (1.0 - normal_cdf(np.where(floating, normals, _FLOATING_FROM))) / FLOATING
    return np.where(floating, -FLOAT_S * np.log(np.clip(share, 1e-6, 1.0)), 0.0)


_FLOATING_FROM: Final = float(normal_quantile(np.array([1.0 - FLOATING]))[0])
assert math.isfinite(_FLOATING_FROM)
