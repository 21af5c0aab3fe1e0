"""Where a place is, by the name of a town: held against a search through all of them with
GeographicLib, and against where towns are known to lie."""

import math
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from groundstation.errors import InputFileError
from groundstation.geo.place_file import Entry, packed, read_columns
from groundstation.geo.places import TOWNS, VILLAGES, Places, known_places

WORLD = known_places()


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "name"),
    [
        # Positions of the towns from a general atlas, to a hundredth of a degree.
        (47.32, 20.93, "Karcag"),
        (47.36, 20.98, "Karcag"),
        (47.50, 19.05, "Budapest"),  # not the fifth district, which is nearer
        (48.86, 2.35, "Paris"),
        (-33.87, 151.21, "Sydney"),
        (-18.14, 178.44, "Suva"),
        (78.22, 15.65, "Longyearbyen"),
    ],
)
def test_a_place_is_called_after_the_town_where_it_is(
    latitude_deg: float, longitude_deg: float, name: str
) -> None:
    town = WORLD.nearest(latitude_deg, longitude_deg)
    assert town is not None
    assert town.name == name


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg"),
    [(0.0, -179.9), (0.0, 179.9), (-17.8, -179.95), (90.0, 0.0), (-90.0, 12.0), (89.9, -179.99),
     (25.0, 10.0), (0.0, -140.0), (47.36, 20.98), (66.0, -169.5), (-48.9, -123.4)],
)  # fmt: skip
def test_the_nearest_is_found_across_the_date_line_and_at_the_poles(
    latitude_deg: float, longitude_deg: float
) -> None:
    """The edge of a town by its people, the distance by GeographicLib, over all of them."""
    found = WORLD.nearest(latitude_deg, longitude_deg)
    assert found is not None
    lat, lon, reach_m = all_of_them()
    dot = np.cos(np.radians(lat)) * math.cos(math.radians(latitude_deg)) * np.cos(
        np.radians(lon - longitude_deg)
    ) + np.sin(np.radians(lat)) * math.sin(math.radians(latitude_deg))
    largest = np.argsort(-reach_m)[:300]
    best = min(
        geodesic_m(latitude_deg, longitude_deg, lat[n], lon[n]) - reach_m[n]
        for n in (*np.argsort(-dot)[:300], *largest)
    )
    reach = 1000.0 * math.sqrt(found.population / (math.pi * 3_000.0))
    away = geodesic_m(latitude_deg, longitude_deg, found.latitude_deg, found.longitude_deg)
    # The sphere of the search is off by up to 0.6 % of each distance.
    assert away - reach <= best + 0.012 * away + 10.0


def geodesic_m(*ends: float) -> float:
    return float(Geodesic.WGS84.Inverse(*ends, Geodesic.DISTANCE)["s12"])


@cache
def all_of_them() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Latitude, longitude and reach in metres, by the file's own description."""
    file = read_columns(TOWNS)
    cell = np.repeat(np.arange(90 * 180), np.diff(file.first.astype(int)))
    lat = 2.0 * (cell // 180) - 90.0 + 2.0 * file.within[:, 0] / 65_536
    lon = 2.0 * (cell % 180) - 180.0 + 2.0 * file.within[:, 1] / 65_536
    return lat, lon, 1000.0 * np.sqrt(2.0 ** (file.population / 10.0) / (math.pi * 3_000.0))


@given(st.floats(allow_nan=True), st.floats(allow_nan=True))
def test_whatever_is_asked_is_answered(latitude_deg: float, longitude_deg: float) -> None:
    found = WORLD.nearest(latitude_deg, longitude_deg)
    known = abs(latitude_deg) <= 90.0 and math.isfinite(longitude_deg)
    assert (found is not None) == known


def test_the_towns_are_small_and_say_whose_names_they_are() -> None:
    assert TOWNS.stat().st_size < 2_000_000
    attribution = read_columns(TOWNS).attribution
    assert "GeoNames" in attribution
    assert "CC BY 4.0" in attribution
    assert "reduced" in attribution


def test_villages_of_the_region_come_before_towns_behind_them(tmp_path: Path) -> None:
    hamlet = Entry(
        name="Kanalaspuszta", latitude_deg=47.36, longitude_deg=20.98, population=0, country="HU"
    )
    (tmp_path / VILLAGES).write_bytes(packed([hamlet], "Invented."))
    both = known_places(tmp_path)
    assert read_columns(tmp_path / VILLAGES).attribution == "Invented."
    town = both.nearest(47.361, 20.981)
    assert town is not None
    assert town.name == "Kanalaspuszta"
    assert (town.latitude_deg, town.longitude_deg) == pytest.approx((47.36, 20.98), abs=3e-5)
    far = both.nearest(47.32, 20.93)
    assert far is not None
    assert far.name == "Karcag"


def test_the_largest_in_a_box_come_first_and_only_those_in_it() -> None:
    found = WORLD.within((46.0, 19.0, 48.0, 22.0), 10)
    assert [one.name for one in found][:1] == ["Budapest"]
    assert [one.population for one in found] == sorted((x.population for x in found), reverse=True)
    assert all(46.0 <= x.latitude_deg < 48.0 and 19.0 <= x.longitude_deg < 22.0 for x in found)
    across = {one.name for one in WORLD.within((-19.0, 177.0, -16.0, -178.0), 20)}
    assert "Suva" in across
    assert WORLD.countries((46.0, 19.0, 48.0, 22.0)) == {"HU", "RO", "RS"}
    assert WORLD.countries((-19.0, 177.0, -16.0, -178.0)) == {"FJ"}


@pytest.mark.parametrize("data", [b"", b"{}\n", b"[1]\n", b'{"form": "places 2"}\n', None])
def test_a_damaged_file_is_named_with_what_to_do(tmp_path: Path, data: bytes | None) -> None:
    path = tmp_path / VILLAGES
    path.write_bytes(TOWNS.read_bytes()[:100_000] if data is None else data)
    with pytest.raises(InputFileError, match=r"villages\.places is no file of places .*prepare"):
        Places([path])
