"""Radio horizon, terrain and winds aloft in the estimate."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from groundstation.flight.alert_records import TouchdownSoon
from groundstation.flight.horizon import ANTENNA_M, hidden_below_m, signal_loss
from groundstation.flight.settings import BaseSettings, FlightSettings
from groundstation.physics.geodesy import distance_m, horizon_height_m
from groundstation.physics.layers import MIDDLE_M
from groundstation.physics.wind import WindsAloft
from groundstation.records import Landing, Phase
from groundstation.simulation.profiles import Profile, settings_of
from groundstation.simulation.simulate import SimulatedFlight
from tests.support.flights import ANY, fold, reports_of, simulated

Array = NDArray[np.float64]
HOME = BaseSettings(latitude_deg=47.1, longitude_deg=20.3, altitude_m=85.0)
AT_HOME = replace(ANY, base=HOME, ground_m=85.0)


class Everywhere:
    """Ground of one height."""

    def __init__(self, height_m: float) -> None:
        self.height_m = height_m

    def heights_m(self, latitude_deg: Array, longitude_deg: Array) -> Array:  # noqa: ARG002
        return np.full(latitude_deg.shape, self.height_m)


class Ridge:
    """A ridge of 600 m from south to north at 20.8 E, else plain."""

    def heights_m(self, latitude_deg: Array, longitude_deg: Array) -> Array:  # noqa: ARG002
        return np.where(np.abs(longitude_deg - 20.8) < 0.02, 600.0, 85.0)


class Unknown:
    def heights_m(self, latitude_deg: Array, longitude_deg: Array) -> Array:  # noqa: ARG002
        return np.full(latitude_deg.shape, np.nan)


@pytest.mark.parametrize("east_deg", [0.5, 1.0, 2.0, 3.0])
def test_over_a_plain_it_is_the_textbook_horizon(east_deg: float) -> None:
    """ITU-R P.834: d[km] = 4.12 (sqrt h1 + sqrt h2), over smooth earth of 4/3 its radius."""
    hidden = hidden_below_m(AT_HOME, 47.1, 20.3 + east_deg, 85.0)
    away = distance_m(47.1, 20.3, 47.1, 20.3 + east_deg)
    assert hidden is not None
    assert hidden - 85.0 == pytest.approx(horizon_height_m(away, ANTENNA_M), rel=0.03, abs=5.0)


def test_a_ridge_hides_more() -> None:
    ridge = replace(AT_HOME, terrain=Ridge())
    hidden = hidden_below_m(ridge, 47.1, 21.3, 85.0)
    plain = hidden_below_m(AT_HOME, 47.1, 21.3, 85.0)
    assert hidden is not None
    assert plain is not None
    # Similar triangles over the ridge, about half way: twice 515 m above base, and the bulge.
    assert 900.0 < hidden - 85.0 < 1_800.0
    assert hidden > 2.0 * plain
    # Where terrain is not known it is the plain.
    assert hidden_below_m(replace(AT_HOME, terrain=Unknown()), 47.1, 21.3, 85.0) == plain


def landing(east_deg: float) -> Landing:
    return Landing(
        payload="kanalas-1",
        time_utc=0.0,
        evidence_utc=0.0,
        phase=Phase.DESCENT,
        latitude_deg=47.1,
        longitude_deg=20.3 + east_deg,
        ground_m=85.0,
        eta_utc=3_000.0,
        eta_90_utc=(2_900.0, 3_100.0),
        descent_rate_ms=6.0,
        region_50=(),
        region_90=(),
        radius_50_m=1.0,
        radius_90_m=2.0,
        basis="made up",
    )


def test_when_the_signal_is_lost() -> None:
    loss = signal_loss(AT_HOME, landing(1.0))
    assert loss is not None
    # A little faster up there than at the ground.
    assert 0.93 < (3_000.0 - loss.time_utc) / (loss.agl_m / 6.0) < 1.0
    assert signal_loss(AT_HOME, landing(0.01)) is None
    assert signal_loss(replace(AT_HOME, base=None), landing(1.0)) is None


@pytest.mark.slow
def test_it_is_told_before_the_touchdown() -> None:
    told = fold(reports_of(simulated(settings_of(Profile.NORMAL, 2))), AT_HOME)
    [soon] = told.facts(TouchdownSoon)
    assert soon.loss is not None
    assert soon.loss.agl_m > 50.0
    assert 0.0 < soon.loss.in_s < soon.remaining_s


def falling(one: SimulatedFlight, settings: FlightSettings, share: float) -> Landing:
    reports = reports_of(one)
    moment = one.truth.top_utc + share * (one.truth.touchdown_utc - one.truth.top_utc)
    before = [item for item in reports if item[0] <= moment]
    landing = fold(before, settings, estimates=False).flights.estimate("kanalas-1")
    assert landing is not None
    return landing


@pytest.mark.parametrize("share", [0.2, 0.6, 0.85])
def test_terrain_of_one_height_is_that_ground(share: float) -> None:
    one = simulated(settings_of(Profile.NORMAL, 3))
    given = falling(one, replace(ANY, ground_m=400.0), share)
    terrain = falling(one, replace(ANY, terrain=Everywhere(400.0)), share)
    assert terrain.ground_m == pytest.approx(400.0)
    assert terrain.eta_utc == pytest.approx(given.eta_utc, abs=3.0)
    apart = distance_m(
        given.latitude_deg, given.longitude_deg, terrain.latitude_deg, terrain.longitude_deg
    )
    assert apart < 60.0
    assert terrain.basis.endswith(", terrain")


def test_higher_ground_is_met_sooner() -> None:
    one = simulated(settings_of(Profile.NORMAL, 3))
    low = falling(one, replace(ANY, terrain=Everywhere(0.0)), 0.5)
    high = falling(one, replace(ANY, terrain=Everywhere(1_500.0)), 0.5)
    # 1500 m at the rate near the ground.
    expected = 1_500.0 / (low.descent_rate_ms * 1.04)
    assert low.eta_utc - high.eta_utc == pytest.approx(expected, rel=0.06)


def test_unknown_terrain_is_the_ground_of_the_launch() -> None:
    one = simulated(settings_of(Profile.NORMAL, 3))
    unknown = falling(one, replace(ANY, terrain=Unknown()), 0.5)
    plain = falling(one, ANY, 0.5)
    assert unknown.ground_m == pytest.approx(plain.ground_m, abs=1.0)


def test_known_winds_aloft_help_in_the_ascent() -> None:
    """With the true winds of the simulation, the point in the climb is several times nearer."""
    far: list[float] = []
    near: list[float] = []
    words = ""
    for seed in range(1, 9):
        one = simulated(settings_of(Profile.NORMAL, seed))
        column = one.truth.wind
        aloft = WindsAloft.of(
            "winds aloft from the simulator",
            np.asarray(column.altitude_m),
            np.asarray(column.u_ms),
            np.asarray(column.v_ms),
            2.0,
        )
        reports = reports_of(one)
        climbed = [item for item in reports if (item[1].altitude_m or 0.0) < 9_000.0]
        climbed = [item for item in climbed if item[0] < one.truth.top_utc]
        end = int(np.searchsorted(one.truth.time_utc, one.truth.touchdown_utc))
        truth = (float(one.truth.latitude_deg[end]), float(one.truth.longitude_deg[end]))
        for settings, errors in ((ANY, far), (replace(ANY, aloft=aloft), near)):
            told = fold(climbed, settings, estimates=False).flights.estimate("kanalas-1")
            assert told is not None
            words = told.basis
            errors.append(distance_m(told.latitude_deg, told.longitude_deg, *truth))
    assert np.median(near) < 0.6 * np.median(far)
    assert words.endswith("winds aloft from the simulator")


def test_layers_of_given_winds() -> None:
    aloft = WindsAloft.of(
        "x", np.array([0.0, 10_000.0]), np.array([0.0, 10.0]), np.array([5.0, 5.0]), 3.0
    )
    assert float(np.interp(5_000.0, MIDDLE_M, aloft.u_ms)) == pytest.approx(5.0)
    assert set(aloft.v_ms) == {5.0}
