"""The standard atmosphere against its own tables and two independent libraries."""

import numpy as np
import pytest
from ambiance import Atmosphere
from fluids.atmosphere import ATMOSPHERE_1976

from groundstation.errors import OutOfModelRangeError
from groundstation.physics import atmosphere

# U.S. Standard Atmosphere 1976, table I: geometric m, K, Pa, kg/m3
TABLE_I = [
    (1000, 281.651, 89876.3, 1.11166),
    (5000, 255.676, 54048.3, 0.736428),
    (10000, 223.252, 26499.9, 0.413510),
    (11000, 216.774, 22700.0, 0.364802),
    (15000, 216.650, 12111.8, 0.194755),
    (20000, 216.650, 5529.31, 0.0889099),
    (25000, 221.552, 2549.22, 0.0400839),
    (30000, 226.509, 1197.03, 0.0184102),
    (35000, 236.513, 574.595, 0.00846338),
    (40000, 250.350, 287.144, 0.00399568),
]


@pytest.mark.parametrize(("z", "kelvin", "pascal", "kgm3"), TABLE_I)
def test_table_of_the_standard(z: float, kelvin: float, pascal: float, kgm3: float) -> None:
    assert atmosphere.temperature(z) == pytest.approx(kelvin, abs=0.001)
    assert atmosphere.pressure(z) == pytest.approx(pascal, rel=5e-6)
    assert atmosphere.density(z) == pytest.approx(kgm3, rel=5e-6)


def test_fluids_library_agrees_everywhere() -> None:
    heights = np.linspace(-500, 84_000, 400)
    theirs = [ATMOSPHERE_1976(float(z)) for z in heights]
    np.testing.assert_allclose(atmosphere.density(heights), [a.rho for a in theirs], rtol=2e-5)
    np.testing.assert_allclose(atmosphere.pressure(heights), [a.P for a in theirs], rtol=2e-5)


def test_ambiance_library_agrees_everywhere() -> None:
    heights = np.linspace(0, 80_000, 400)
    np.testing.assert_allclose(atmosphere.density(heights), Atmosphere(heights).density, rtol=2e-5)


def test_geopotential_and_back() -> None:
    # USSA 1976 eq. 18: H of 30,000 m is 29,859.1 m
    assert atmosphere.geopotential_m(30_000.0) == pytest.approx(29_859.1, abs=0.1)
    assert atmosphere.geometric_m(30_000.0) == pytest.approx(30_142.3, abs=0.1)
    assert atmosphere.gravity_ms2(30_000.0) == pytest.approx(9.71474, abs=1e-5)


@pytest.mark.parametrize("z", [-6000.0, 90_000.0, float("nan")])
def test_outside_the_model_is_an_error(z: float) -> None:
    with pytest.raises(OutOfModelRangeError):
        atmosphere.density(z)


def test_pressure_altitude_is_the_inverse() -> None:
    """fluids gives the pressure (US Standard Atmosphere 1976), this gives the height back."""
    for height in (
        -300.0,
        0.0,
        5_500.0,
        11_000.0,
        11_500.0,
        20_500.0,
        31_000.0,
        36_000.0,
        60_000.0,
    ):
        back = atmosphere.pressure_altitude_m(ATMOSPHERE_1976(height).P)
        assert float(back) == pytest.approx(height, abs=0.5)
    assert np.isnan(atmosphere.pressure_altitude_m([0.0, -5.0, 2e6])).all()
