"""Whole flights against general reference libraries: SciPy's integrator, its multivariate t, and
closed forms of normal posteriors."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.stats import multivariate_t, norm

from groundstation.physics.courses import COUNT, MIDDLE_M, SPEED_RATIO, Courses
from groundstation.physics.drifts import DEGREES, Drifts, Places, WindBelief, changes, onward
from groundstation.physics.tempering import spread_normals, tempered


def courses(n: int = 3, float_s: float = 0.0) -> Courses:
    climb = np.linspace(4.0, 6.0, n)[:, None] * np.linspace(0.9, 1.2, COUNT)
    fall = np.linspace(5.0, 9.0, n)[:, None] * np.linspace(1.0, 1.3, COUNT)
    return Courses.of(
        launch_s=np.linspace(0.0, 300.0, n),
        from_m=120.0,
        top_m=np.linspace(24_000.0, 31_000.0, n),
        float_s=np.full(n, float_s),
        climb_ms=climb,
        fall_rate_ms=fall,
        ground_m=180.0,
    )


def test_heights_are_those_of_an_integrated_flight() -> None:
    """SciPy's solve_ivp (RK45) on the same climb and fall rates."""
    flights = courses()
    for n in range(3):
        rise = solve_ivp(
            lambda _, z, n=n: [flights.climb_ms[n, np.argmin(np.abs(MIDDLE_M - z[0]))]],
            (flights.launch_s[n], flights.burst_s[n]),
            [120.0],
            max_step=5.0,
        )
        assert rise.y[0, -1] == pytest.approx(flights.top_m[n], abs=5.0)
        fall = solve_ivp(
            lambda _, z, n=n: [-flights.fall_ms[n, np.argmin(np.abs(MIDDLE_M - z[0]))]],
            (flights.burst_s[n], flights.touchdown_s[n]),
            [flights.top_m[n]],
            max_step=5.0,
        )
        assert fall.y[0, -1] == pytest.approx(180.0, abs=15.0)
        moments = np.linspace(flights.launch_s[n], flights.touchdown_s[n], 40)
        climbing = moments <= flights.burst_s[n]
        expected = np.where(
            climbing,
            np.interp(moments, rise.t, rise.y[0]),
            np.interp(moments, fall.t, fall.y[0]),
        )
        assert flights.height_m(moments)[n] == pytest.approx(expected, abs=20.0)


@pytest.mark.parametrize("float_s", [0.0, 1_800.0])
def test_every_second_in_the_air_is_in_one_layer(float_s: float) -> None:
    flights = courses(float_s=float_s)
    since, until = np.array([0.0, 2_000.0, 5_000.0]), np.array([2_000.0, 5_000.0, 99_999.0])
    spent = flights.rising_s(since, until) + flights.falling_s(since, until)
    assert spent.sum(axis=(1, 2)) == pytest.approx(flights.touchdown_s - flights.launch_s)
    assert flights.touchdown_s - flights.fall_s == pytest.approx(
        flights.falling_s(since, until).sum(axis=(1, 2))
    )


def test_a_fall_is_as_quick_as_thin_air_makes_it() -> None:
    flights = courses()
    assert flights.fall_ms[0, -1] / flights.fall_ms[0, 0] == pytest.approx(
        1.3 * SPEED_RATIO[-1] / SPEED_RATIO[0]
    )


def test_places_are_judged_by_a_joint_student_t() -> None:
    """Against SciPy's multivariate_t, both components together, up to one constant."""
    flights = courses()
    belief = WindBelief(np.full((2, COUNT), 7.0), 2.5**2 * np.eye(COUNT) + 1.0)
    places = Places(
        np.array([0.0, 900.0, 2_000.0, 7_000.0]),
        np.array([0.0, 5_000.0, 12_000.0, 30_000.0]),
        np.array([0.0, 6_000.0, 15_000.0, 41_000.0]),
    )
    drifts = Drifts.of(flights, places, belief)
    expected = []
    for n in range(3):
        up, down = drifts.rising_s[n], drifts.falling_s[n]
        both = up + down
        one = both @ belief.shared @ both.T + places.noise
        one = one + up @ changes(1.0) @ up.T + down @ changes(2.2) @ down.T
        mean = both @ np.full(COUNT, 7.0)
        seen = np.concatenate([np.diff(places.x_m), np.diff(places.y_m)])
        expected.append(
            multivariate_t.logpdf(
                seen, np.concatenate([mean, mean]), np.kron(np.eye(2), one), df=DEGREES
            )
        )
    got = drifts.log_likelihood
    assert got - got[0] == pytest.approx(np.array(expected) - expected[0], rel=1e-6)


def test_winds_drawn_lead_through_the_places() -> None:
    """What a draw would have drifted is what was seen, but for the places' own error."""
    flights = courses(400)
    belief = WindBelief(np.zeros((2, COUNT)), 3.0**2 * np.exp(-np.abs(_apart()) / 3_000.0))
    places = Places(
        np.array([0.0, 900.0, 2_000.0]), np.array([0.0, 5e3, 9e3]), np.array([0.0, 1e3, -2e3])
    )
    drifts = Drifts.of(flights, places, belief)
    up, down = onward(drifts, places, belief, np.random.default_rng(1))
    for winds_up, winds_down, seen in (
        (up.u_ms, down.u_ms, np.diff(places.x_m)),
        (up.v_ms, down.v_ms, np.diff(places.y_m)),
    ):
        way = np.einsum("nkl,nl->nk", drifts.rising_s, winds_up)
        way = way + np.einsum("nkl,nl->nk", drifts.falling_s, winds_down)
        assert np.abs(way.mean(axis=0) - seen).max() < 60.0
        assert way.std(axis=0).max() < 300.0


def test_evidence_let_in_by_degrees_gives_the_posterior() -> None:
    """A normal prior seen with normal noise: the closed form of any textbook."""
    rng = np.random.default_rng(7)
    seen, sd = 3.0, 0.2

    def likely(x: np.ndarray) -> np.ndarray:
        return np.asarray(norm.logpdf(seen, x[:, 0] + 0.5 * x[:, 1], sd))

    members = tempered(spread_normals(4_000, 3, rng), likely, rng)
    gain = np.array([1.0, 0.5, 0.0]) / (1.25 + sd**2)
    assert members.mean(axis=0) == pytest.approx(gain * seen, abs=0.08)
    spread = 1.0 - gain * np.array([1.0, 0.5, 0.0])
    assert members.var(axis=0) == pytest.approx(spread, abs=0.1)


def _apart() -> np.ndarray:
    return MIDDLE_M[:, None] - MIDDLE_M[None, :]
