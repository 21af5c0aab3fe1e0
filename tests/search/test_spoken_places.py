"""Places against PyGeodesy (MIT), which follows Karney's and NGA's own forms."""

import numpy as np
import pytest
from pygeodesy.mgrs import Mgrs
from pygeodesy.utm import toUtm8

from groundstation.search.spoken_places import degrees_minutes, mgrs_text, utm_text


@pytest.mark.parametrize("seed", range(8))
def test_utm_and_mgrs_agree_with_a_reference(seed: int) -> None:
    rng = np.random.default_rng(seed)
    for lat, lon in zip(rng.uniform(-79.9, 83.9, 60), rng.uniform(-180, 180, 60), strict=True):
        there = toUtm8(lat, lon)
        zone, east, north = (utm_text(lat, lon) or "").split()
        assert zone == f"{there.zone}{there.band}"
        assert int(east) == pytest.approx(there.easting, abs=0.6)
        assert int(north) == pytest.approx(there.northing, abs=0.6)
        reference: Mgrs = there.toMgrs()
        told = (mgrs_text(lat, lon) or "").split()
        assert told[:2] == [f"{reference.zone:02d}{reference.band}", reference.EN]
        assert int(told[2]) == pytest.approx(reference.easting, abs=1.0)
        assert int(told[3]) == pytest.approx(reference.northing, abs=1.0)


def test_odd_zones_of_the_north() -> None:
    """Norway and Svalbard (DMA TM 8358.1, 3-1): 32V is wider, 31X, 33X, 35X and 37X too."""
    assert (utm_text(60.0, 4.0) or "").startswith("32V")
    assert (utm_text(78.0, 10.0) or "").startswith("33X")


def test_beyond_the_grid_nothing_is_told() -> None:
    assert utm_text(85.0, 0.0) is None
    assert mgrs_text(-81.0, 0.0) is None


@pytest.mark.parametrize(
    ("lat", "lon", "said"),
    [
        (47.213456, 20.654321, "N 47° 12.807′ E 020° 39.259′"),
        (-0.5, -179.999999, "S 00° 30.000′ W 180° 00.000′"),
        (0.0, 0.0, "N 00° 00.000′ E 000° 00.000′"),
    ],
)
def test_degrees_and_minutes(lat: float, lon: float, said: str) -> None:
    """By hand: 0.213456 · 60 = 12.80736; rounding carries over."""
    assert degrees_minutes(lat, lon) == said
