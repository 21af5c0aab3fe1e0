"""What the benchmark of steps calls jitter, on points made for it."""

import numpy as np
import pytest

from benchmarks.steps import moves, taken_back

COUNT = 4_000


def walk(rng: np.random.Generator, smooth: int) -> np.ndarray:
    """A way (COUNT, 2) whose steps are alike over ``smooth`` of them, 0.05 each on average."""
    steps = rng.normal(size=(COUNT + smooth, 2)).cumsum(axis=0)
    steps = steps[smooth:] - steps[:-smooth]
    return np.asarray((steps * 0.05 / np.sqrt((steps**2).sum(axis=1).mean())).cumsum(axis=0))


@pytest.mark.parametrize("jitter", [0.03, 0.1])
def test_what_a_point_is_off_for_one_estimate_only_is_jitter(jitter: float) -> None:
    rng = np.random.default_rng(5)
    points = walk(rng, 10) + rng.normal(0.0, jitter / np.sqrt(2.0), size=(COUNT, 2))
    assert taken_back(np.diff(points, axis=0)) == pytest.approx(jitter, rel=0.1)


def test_a_point_that_goes_one_way_has_no_jitter() -> None:
    points = walk(np.random.default_rng(5), 20)
    assert taken_back(np.diff(points, axis=0)) < 0.005


def test_one_surprise_after_which_the_region_is_wider_is_no_jitter() -> None:
    """The wider region is the measure of what comes after it."""
    rng = np.random.default_rng(5)
    points = walk(rng, 10)[:200] * 100.0
    points[100:, 0] += 150.0
    radius = np.full(200, 100.0)
    radius[100:] = 200.0
    found = moves(points, radius)
    assert found.jitter < 0.1
    assert found.largest == pytest.approx(1.5, abs=0.1)
    assert found.falls < 0.0  # it only ever got wider
