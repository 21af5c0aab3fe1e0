"""The fall through the standard atmosphere, and the fit of its rate."""

import itertools
import math

import numpy as np
import pytest

from groundstation.physics.fall import FallModel, pieces, regress, samples
from groundstation.physics.layers import (
    EDGE_M,
    MIDDLE_M,
    fall_path_m,
    layer_of,
    shares_m,
    speed_ratio,
)

# Integral of sqrt(rho/rho0) dz from the ground up, computed independently from USSA 1976.
FALL_PATH = [
    (500, 494.0),
    (1000, 976.2),
    (2000, 1905.6),
    (5000, 4425.6),
    (10000, 7804.0),
    (20000, 11890.2),
    (30000, 13749.2),
    (35000, 14257.5),
]

# sqrt(rho0/rho), USSA 1976: the factor on a sea-level descent rate (Knacke, NWC TP 6575 ch. 5)
FACTOR = [(1, 1.0497), (5, 1.2897), (10, 1.7212), (20, 3.7119), (30, 8.1572), (35, 12.0308)]


@pytest.mark.parametrize(("top_m", "path_m"), FALL_PATH)
def test_path_of_a_fall(top_m: float, path_m: float) -> None:
    got = float(fall_path_m(top_m) - fall_path_m(0.0))
    assert got == pytest.approx(path_m, abs=0.3)


@pytest.mark.parametrize(("z_km", "factor"), FACTOR)
def test_factor_on_the_rate(z_km: float, factor: float) -> None:
    assert float(speed_ratio(z_km * 1000)) == pytest.approx(factor, rel=1e-4)


def test_shares_add_up_and_lie_where_they_should() -> None:
    shares = shares_m(np.array([150.0]), np.array([1250.0]))[0]
    assert shares.sum() == pytest.approx(1100.0)
    assert shares[layer_of(250.0)] == pytest.approx(200.0)
    assert shares[layer_of(150.0)] == pytest.approx(50.0)
    assert EDGE_M[layer_of(150.0)] <= 150.0 < EDGE_M[layer_of(150.0) + 1]


def falling(rate_ms: float, top_m: float, low_m: float, step_s: float) -> tuple[np.ndarray, ...]:
    """A clean fall at one sea-level rate, by the quasi-steady formula."""
    z = np.linspace(top_m, low_m, 20_000)
    t = (fall_path_m(top_m) - fall_path_m(z)) / rate_ms
    at = np.arange(0.0, t[-1], step_s)
    return at, np.interp(at, t, z)


@pytest.mark.parametrize("step_s", [1.0, 10.0, 60.0])
def test_a_clean_fall_gives_its_rate_back(step_s: float) -> None:
    t, z = falling(5.0, 25_000.0, 3_000.0, step_s)
    seen = samples(t, z, step_s, 0.03)
    # The piece at the top is corrected for a burst that this fall has not.
    late = seen.altitude_m < z[0] - 6_000.0
    np.testing.assert_allclose(np.exp(seen.log_rate[late]), 5.0, rtol=2e-3)


def test_pieces_cover_the_fall_without_gap() -> None:
    _, z = falling(6.0, 12_000.0, 300.0, 7.0)
    cuts = pieces(z)
    assert cuts[0][0] == 0
    assert cuts[-1][1] == len(z) - 1
    assert all(a[1] == b[0] for a, b in itertools.pairwise(cuts))


def test_one_wild_sample_hardly_moves_the_fit() -> None:
    model = FallModel()
    z = np.arange(20_000.0, 8_000.0, -400.0)
    truth = np.full_like(z, math.log(7.0))
    variance = np.full_like(z, 0.03**2)
    bad = truth.copy()
    bad[10] += 1.5

    def level(y: np.ndarray) -> float:
        close = regress(model.covariance(z, z), y - model.mean(z), z, variance)
        at = np.array([7_000.0])
        mean = model.mean(at) + model.covariance(at, z) @ (close.solve @ close.residual)
        return float(np.exp(mean[0]))

    assert level(bad) == pytest.approx(level(truth), rel=0.01)


@pytest.mark.parametrize("climbed_on_s", [254.0, 258.0, 262.0])
def test_a_burst_late_between_two_fixes_makes_no_slow_fall(climbed_on_s: float) -> None:
    """Five minutes apart: it rose at 5 m/s, burst, and is hardly lower than before."""
    model = FallModel()
    t, z = falling(math.exp(model.level), 28_000.0 + 5.0 * climbed_on_s, 3_000.0, 1.0)
    after = float(np.interp(300.0 - climbed_on_s, t, z))
    assert 26_500.0 < after < 28_000.0
    seen = samples(np.array([0.0, 300.0]), np.array([28_000.0, after]), 300.0, model.noise)
    at = seen.altitude_m
    close = regress(model.covariance(at, at), seen.log_rate - model.mean(at), at, seen.variance)
    low = np.array([7_000.0])
    moved = model.covariance(low, at) @ (close.solve @ close.residual)
    assert float(moved[0]) == pytest.approx(0.0, abs=0.1)


def test_a_plan_sets_the_rate_at_the_ground() -> None:
    model = FallModel().planned(5.0, 0.5)
    ground = np.array([0.0])
    assert float(np.exp(model.mean(ground))[0]) == pytest.approx(5.0, rel=1e-6)
    sd = math.sqrt(float(model.covariance(ground, ground)[0, 0]))
    assert sd == pytest.approx(0.1, rel=0.2)


def test_middles_lie_between_edges() -> None:
    assert np.all((EDGE_M[:-1] < MIDDLE_M) & (EDGE_M[1:] > MIDDLE_M))
