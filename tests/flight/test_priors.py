"""Whole flights before anything of them was seen: as wide as the plan says, and no wider."""

import numpy as np
import pytest
from scipy.stats import t

from groundstation.flight.priors import PLAN_DEGREES, PLAN_SCALE, Beginning, Prior
from groundstation.flight.settings import PlanSettings
from groundstation.physics.courses import MIDDLE_M, Courses
from groundstation.physics.tempering import spread_normals

PLAN = PlanSettings(
    burst_altitude_m=30_000.0, burst_altitude_sd_m=1_500.0, ascent_rate_ms=5.0,
    ascent_rate_sd_ms=0.5, descent_rate_ms=6.0, descent_rate_sd_ms=0.6,
)  # fmt: skip
BEGIN = Beginning(early_s=0.0, late_s=60.0, from_m=100.0, ground_m=100.0)


def drawn(plan: PlanSettings) -> Courses:
    prior = Prior.of(plan, BEGIN)
    return prior.courses(spread_normals(4_000, prior.unknowns, np.random.default_rng(1)))


def two_thirds(values: np.ndarray) -> float:
    """Half of the width of the middle 68.3 %."""
    low, high = np.quantile(values, (0.1587, 0.8413))
    return float(high - low) / 2.0


def test_the_scale_of_a_plan_is_that_of_its_two_thirds() -> None:
    """SciPy's Student t."""
    assert pytest.approx(1.0 / t.ppf(0.84134, PLAN_DEGREES), rel=1e-4) == PLAN_SCALE


def test_a_plan_is_as_wide_as_it_says_with_tails_beyond() -> None:
    top = drawn(PLAN).top_m
    assert two_thirds(top) == pytest.approx(1_500.0, rel=0.05)
    assert np.mean(np.abs(top - 30_000.0) > 4_500.0) > 0.01, "a normal distribution has 0.003"


def test_the_rate_of_the_plan_is_the_mean_of_the_climb() -> None:
    """What a climb differs from itself by is not counted as an error of the plan once more."""
    flights = drawn(PLAN)
    whole = (MIDDLE_M > 100.0) & (MIDDLE_M < 30_000.0)
    rates = np.exp(np.log(flights.climb_ms[:, whole]).mean(axis=1))
    assert np.median(rates) == pytest.approx(5.0, rel=0.02)
    assert two_thirds(rates) == pytest.approx(0.5, rel=0.06)
    within = np.log(flights.climb_ms[:, whole]) - np.log(rates)[:, None]
    shape = within.mean(axis=0)
    assert 0.05 < float((within - shape).std()) < 0.12, "the wander and the trend are still there"


def test_without_a_plan_what_is_usual_is_as_wide_as_it_says() -> None:
    """4 km, which is what recorded flights scatter by already: they were widened once more."""
    top = drawn(PlanSettings()).top_m
    assert two_thirds(top) == pytest.approx(4_000.0, rel=0.05)
    assert np.mean(np.abs(top - 30_000.0) > 8_000.0) > 0.08
