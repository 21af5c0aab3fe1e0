"""Wind profiles of known winds, regions of known distributions."""

import itertools
from dataclasses import fields

import numpy as np
import pytest

from groundstation.physics.draws import draws, normal_cdf, normal_quantile
from groundstation.physics.layers import MIDDLE_M
from groundstation.physics.region import away_m, highest_density
from groundstation.physics.wind import measured_profile


def test_a_sheared_wind_is_found_again() -> None:
    t = np.arange(0.0, 5_000.0, 20.0)
    z = 100.0 + 5.0 * t
    speed = 2.0 + z / 1_000.0
    x = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2.0 * 20.0)])
    profile = measured_profile(t, x, np.zeros_like(x), z)
    inside = (MIDDLE_M > 1_000.0) & (MIDDLE_M < 24_000.0)
    np.testing.assert_allclose(profile.u_ms[inside], 2.0 + MIDDLE_M[inside] / 1000.0, atol=0.05)
    np.testing.assert_allclose(profile.v_ms, 0.0, atol=1e-9)
    assert profile.highest_m == pytest.approx(z.max())


def test_a_fix_each_quarter_of_an_hour_tells_winds() -> None:
    t = np.arange(0.0, 5_400.0, 900.0)
    profile = measured_profile(t, 8.0 * t, -3.0 * t, 200.0 + 5.0 * t)
    assert profile.highest_m == pytest.approx(22_700.0)
    np.testing.assert_allclose(profile.u_ms, 8.0)
    np.testing.assert_allclose(profile.v_ms, -3.0)


def test_one_point_is_no_wind() -> None:
    profile = measured_profile(*(np.zeros(1) for _ in range(4)))
    assert not np.isfinite(profile.lowest_m)
    assert not profile.u_ms.any()


def _area(loop: np.ndarray) -> float:
    x, y = loop[:, 0], loop[:, 1]
    return float(abs(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1])) / 2.0)


def _inside(loop: np.ndarray, points: np.ndarray) -> np.ndarray:
    hit = np.zeros(len(points), dtype=bool)
    for (x1, y1), (x2, y2) in itertools.pairwise(loop):
        across = (y1 > points[:, 1]) != (y2 > points[:, 1])
        with np.errstate(divide="ignore", invalid="ignore"):
            at = (x2 - x1) * (points[:, 1] - y1) / (y2 - y1) + x1
        hit ^= across & (points[:, 0] < at)
    return hit


# Area of the ellipse that holds p of a normal: pi k^2 s1 s2, k^2 = chi2(2) = -2 ln(1 - p);
# s1 = 3, s2 = 1: 13.066 for 50 %, 43.403 for 90 % (chi-squared table, 2 degrees of freedom).
@pytest.mark.parametrize(("share", "area"), [(0.5, 13.066), (0.9, 43.403)])
def test_region_of_a_normal_cloud(share: float, area: float) -> None:
    rng = np.random.default_rng(7)
    areas, held = [], []
    for _ in range(20):
        points = rng.standard_normal((500, 2)) * (3.0, 1.0)
        (loops,) = highest_density(points, (share,))
        areas.append(sum(_area(loop) for loop in loops))
        fresh = rng.standard_normal((4_000, 2)) * (3.0, 1.0)
        held.append(np.any([_inside(loop, fresh) for loop in loops], axis=0).mean())
    assert np.mean(areas) == pytest.approx(area, rel=0.1)
    assert np.mean(held) == pytest.approx(share, abs=0.03)


def test_two_clouds_give_two_regions() -> None:
    rng = np.random.default_rng(3)
    near = rng.standard_normal((250, 2))
    (loops,) = highest_density(np.concatenate([near, np.add(near, (60.0, 0.0))]), (0.9,))
    assert len(loops) == 2


def test_a_few_members_apart_are_no_second_region() -> None:
    """Against scraps of a region that come and go on the map."""
    rng = np.random.default_rng(11)
    for _ in range(20):
        tail = rng.standard_normal((500, 2)) * np.sqrt(4.5 / rng.chisquare(4.5, (500, 1)))
        few = 0.2 * rng.standard_normal((10, 2)) + (4.5, 0.0)
        for loops in highest_density(np.concatenate([tail, few]), (0.5, 0.9)):
            assert len(loops) == 1


def test_lines_are_closed_and_counter_clockwise() -> None:
    rng = np.random.default_rng(5)
    for loops in highest_density(rng.standard_normal((500, 2)), (0.5, 0.9)):
        for loop in loops:
            x, y = loop[:, 0], loop[:, 1]
            np.testing.assert_array_equal(loop[0], loop[-1])
            assert np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]) > 0


def test_normal_distribution_against_its_table() -> None:
    # Abramowitz and Stegun table 26.1
    assert normal_cdf(np.array(1.0)) == pytest.approx(0.8413447461, abs=2e-7)
    assert normal_cdf(np.array(-1.96)) == pytest.approx(0.0249978951, abs=2e-7)
    assert normal_quantile(np.array(0.95)) == pytest.approx(1.6448536, abs=1e-5)


def test_draws_have_the_statistics_they_name() -> None:
    d = draws(500, 6_000.0, 1_000.0, 6_000.0, 7.6)
    assert d.fall_level.mean() == pytest.approx(0.0, abs=1e-6)
    assert d.fall_level.std() == pytest.approx(1.0, abs=0.01)
    assert d.east.std() == pytest.approx(1.0, abs=0.05)
    beside = np.mean(d.east[:, 5:] * d.east[:, :-5])
    assert beside == pytest.approx(np.exp(-1.0), abs=0.05)


def test_no_two_draws_go_together() -> None:
    """With 4000 pairs of members, 0.08 is five standard deviations of a correlation of none."""
    d = draws(8_000, 6_000.0, 1_000.0, 6_000.0, 7.6)
    rows = {}
    for one in fields(d):
        value = getattr(d, one.name)
        if one.name == "noise":
            rows.update({f"{one.name} {k}": value[k, :, 40] for k in range(3)})
        elif one.name != "half":
            rows[one.name] = value if value.ndim == 1 else value[:, 40]
    together = np.corrcoef(np.stack(list(rows.values())))
    np.fill_diagonal(together, 0.0)
    assert len(rows) == 22
    assert np.abs(together).max() < 0.08


def test_how_far_a_point_is_from_an_area() -> None:
    """By hand: a square of 10 m with a hole of 4 m in its middle, and another beside it."""
    square = (np.array([0.0, 10.0, 10.0, 0.0, 0.0]), np.array([0.0, 0.0, 10.0, 10.0, 0.0]))
    hole = (np.array([3.0, 3.0, 7.0, 7.0, 3.0]), np.array([3.0, 7.0, 7.0, 3.0, 3.0]))
    other = (square[0] + 30.0, square[1])
    assert away_m(1.0, 1.0, [square]) == 0.0
    assert away_m(5.0, 4.0, [square, hole]) == pytest.approx(1.0)
    assert away_m(13.0, 14.0, [square]) == pytest.approx(5.0)
    assert away_m(5.0, -7.0, [square]) == pytest.approx(7.0)
    assert away_m(24.0, 5.0, [square, other]) == pytest.approx(6.0)
    assert away_m(0.0, 0.0, []) == np.inf
