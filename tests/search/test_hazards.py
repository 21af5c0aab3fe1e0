"""Hazards near a place, against plane geometry by hand and geographiclib."""

import json
from pathlib import Path

import pytest
from geographiclib.geodesic import Geodesic

from groundstation.errors import ConfigurationError
from groundstation.geo.hazards import near, read_hazards

LINE = {
    "type": "Feature",
    "properties": {"kind": "power line", "name": "T1"},
    "geometry": {"type": "LineString", "coordinates": [[20.30, 47.10], [20.34, 47.10]]},
}
LAKE = {
    "type": "Feature",
    "properties": {"kind": "water", "name": "<b>Tó</b>"},
    "geometry": {
        "type": "Polygon",
        "coordinates": [
            [[20.31, 47.12], [20.33, 47.12], [20.33, 47.13], [20.31, 47.13], [20.31, 47.12]],
            [
                [20.319, 47.124],
                [20.321, 47.124],
                [20.321, 47.126],
                [20.319, 47.126],
                [20.319, 47.124],
            ],
        ],
    },
}


def written(folder: Path, *features: object) -> Path:
    path = folder / "hazards.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    return path


def test_the_nearest_comes_first_with_distance_and_bearing(tmp_path: Path) -> None:
    hazards = read_hazards(written(tmp_path, LAKE, LINE))
    found = near(hazards, 47.105, 20.32)
    assert [one.hazard.kind for one in found] == ["power line", "water"]
    south = Geodesic.WGS84.Inverse(47.105, 20.32, 47.10, 20.32)["s12"]
    north = Geodesic.WGS84.Inverse(47.105, 20.32, 47.12, 20.32)["s12"]
    assert found[0].distance_m == pytest.approx(south, abs=0.5)
    assert found[0].bearing_deg == pytest.approx(180.0, abs=0.1)
    assert found[1].distance_m == pytest.approx(north, abs=1.0)


def test_inside_is_no_distance_and_an_island_is_not_inside(tmp_path: Path) -> None:
    hazards = read_hazards(written(tmp_path, LAKE))
    assert near(hazards, 47.128, 20.315)[0].distance_m == 0.0
    island = near(hazards, 47.125, 20.32)[0]
    assert 0.0 < island.distance_m < 120.0


def test_what_is_far_is_not_told(tmp_path: Path) -> None:
    assert near(read_hazards(written(tmp_path, LAKE, LINE)), 47.3, 20.3) == []


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "{}",
        '{"features": [1]}',
        '{"features": [{"geometry": {"type": "Sphere", "coordinates": []}}]}',
        '{"features": [{"geometry": {"type": "Point", "coordinates": ["a", 1]}}]}',
    ],
)
def test_what_is_no_geojson_is_refused_at_the_start(tmp_path: Path, text: str) -> None:
    path = tmp_path / "x.geojson"
    path.write_text(text)
    with pytest.raises(ConfigurationError):
        read_hazards(path)
