"""Geodesy against published and independently computed values."""

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from groundstation.physics import geodesy

# The first rows of the published GeodTest set (Karney 2010, doi:10.5281/zenodo.32156) cannot be
# fetched here; these are the test values of GeographicLib's own test suite (geodtest, testcases).
GEOGRAPHICLIB_TESTCASES = [
    # lat1, lon1, azi1, lat2, lon2, s12
    (35.60777, -139.44815, 111.098748429560326, -11.17491, -69.95921, 8935244.5604818305),
    (55.52454, 106.05087, 22.020059880982801, 77.03196, 197.18234, 4105086.1713924406),
    (-21.97856, 142.59065, -32.44456876433189, 41.84138, 98.56635, 8394328.894657671),
]


@pytest.mark.parametrize(("lat1", "lon1", "azi1", "lat2", "lon2", "s12"), GEOGRAPHICLIB_TESTCASES)
def test_geographiclib_test_values(
    lat1: float, lon1: float, azi1: float, lat2: float, lon2: float, s12: float
) -> None:
    distance, bearing = geodesy.distance_bearing(lat1, lon1, lat2, lon2)
    assert distance == pytest.approx(s12, abs=1e-3)
    assert bearing == pytest.approx(azi1 % 360, abs=1e-7)
    end = geodesy.destination(lat1, lon1, azi1, s12)
    assert end == pytest.approx((lat2, (lon2 + 180) % 360 - 180), abs=1e-7)


def test_values_of_another_library() -> None:
    # pyproj 3.7.2 (PROJ), WGS 84
    assert geodesy.distance_bearing(40, -105, 40.5, -104) == pytest.approx(
        (101_592.817, 56.551359), abs=1e-3
    )
    assert geodesy.distance_bearing(0, 0, 0, 1)[0] == pytest.approx(111_319.491, abs=1e-3)
    assert geodesy.distance_bearing(0, 0, 1, 0)[0] == pytest.approx(110_574.389, abs=1e-3)


def test_the_same_point_has_no_distance_and_a_bearing() -> None:
    assert geodesy.distance_bearing(47, 20, 47, 20) == (0.0, 0.0)


@given(
    st.floats(-65, 65),
    st.floats(-180, 180),
    st.floats(0, 360),
    st.floats(0, 150_000),
)
def test_quick_distance_and_plane(lat: float, lon: float, bearing: float, distance: float) -> None:
    end = Geodesic.WGS84.Direct(lat, lon, bearing, distance)
    assert geodesy.distance_m(lat, lon, end["lat2"], end["lon2"]) == pytest.approx(
        distance, rel=1e-3, abs=0.01
    )
    plane = geodesy.Plane(lat, lon)
    x, y = plane.to_xy(end["lat2"], end["lon2"])
    assert float(np.hypot(x, y)) == pytest.approx(distance, rel=1e-3, abs=0.01)
    back = plane.to_latlon(x, y)
    assert float(back[0]) == pytest.approx(end["lat2"], abs=1e-8)
    assert float((back[1] - end["lon2"] + 180) % 360 - 180) == pytest.approx(0, abs=1e-8)


def test_radio_horizon() -> None:
    # ITU-R P.310 with 4/3 earth: 1000 m sees 130.3 km, 30,000 m sees 713.6 km
    assert geodesy.horizon_m(1000, 0) == pytest.approx(130_300, rel=1e-3)
    assert geodesy.horizon_m(30_000, 0) == pytest.approx(713_600, rel=1e-3)
    # at 80 km with a 2 m antenna the signal is lost below 324 m
    assert geodesy.horizon_height_m(80_000, 2.0) == pytest.approx(324, abs=1)
    assert geodesy.horizon_height_m(1_000, 2.0) == 0.0
