"""GeoJSON by its standard, RFC 7946."""

import json
import re
from pathlib import Path

import numpy as np
import pytest

from groundstation.decoders import geojson
from groundstation.decoders.geojson import Feature, features
from groundstation.geo.shapes import Form, shapes

POINT = {"type": "Point", "coordinates": [102.0, 0.5]}
# RFC 7946 section 1.5.
EXAMPLE = {
    "type": "FeatureCollection",
    "features": [
        {"type": "Feature", "geometry": POINT, "properties": {"prop0": "value0"}},
        {
            "type": "Feature",
            "geometry": {
                "type": "LineString",
                "coordinates": [[102.0, 0.0], [103.0, 1.0], [104.0, 0.0], [105.0, 1.0]],
            },
            "properties": {"prop0": "value0", "prop1": 0.0},
        },
        {
            "type": "Feature",
            "geometry": {
                "type": "Polygon",
                "coordinates": [
                    [[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]]
                ],
            },
            "properties": {"prop0": "value0", "prop1": {"this": "that"}},
        },
    ],
}


def test_the_example_of_the_standard() -> None:
    found = features(json.dumps(EXAMPLE).encode())
    assert found is not None
    forms = []
    for feature in found:
        assert feature is not None
        assert feature.geometry is not None
        assert feature.properties["prop0"] == "value0"
        forms += [(shape.form, [len(part) for part in shape.parts])
                  for shape in shapes(feature.geometry)]  # fmt: skip
    assert forms == [(Form.POINT, [1]), (Form.LINE, [4]), (Form.AREA, [5])]


@pytest.mark.parametrize(
    ("document", "expected"),
    [
        ({"type": "Feature", "geometry": POINT, "properties": None}, (Feature(geometry=POINT),)),
        (POINT, (Feature(geometry=POINT),)),
        ({"type": "FeatureCollection", "features": [7]}, (None,)),
        ({"type": "Feature", "geometry": None}, (Feature(geometry=None),)),
        ({"type": "FeatureCollection", "features": 7}, None),
        ([POINT], None),
        ({"lat": 47.1}, None),
    ],
)
def test_what_a_file_may_be(document: object, expected: object) -> None:
    assert features(json.dumps(document).encode()) == expected


def test_numbers_keep_their_digits_where_that_is_asked_for() -> None:
    found = features(b'{"type": "Point", "coordinates": [20.30, 47.100]}', numbers_as_text=True)
    assert found == (Feature(geometry={"type": "Point", "coordinates": ["20.30", "47.100"]}),)


@pytest.mark.parametrize("data", [b"{", b"\xff", b"[" * 100_000])
def test_what_is_no_json_is_told_so(data: bytes) -> None:
    with pytest.raises(ValueError, match=r".+"):
        features(data)


def test_a_collection_of_geometries_gives_each_and_an_open_ring_is_closed() -> None:
    """RFC 7946 sections 3.1.6 and 3.1.8."""
    open_ring = {"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [1, 1]]]}
    point, area = shapes({"type": "GeometryCollection", "geometries": [POINT, open_ring]})
    assert (point.form, area.form) == (Form.POINT, Form.AREA)
    np.testing.assert_array_equal(area.parts[0][0], area.parts[0][-1])


def test_nobody_else_takes_a_collection_apart() -> None:
    """Feeds, recordings, hazards and keep-outs share one reader, so that each takes what the others
    take."""
    package = Path(geojson.__file__).parents[1]
    readers = [
        path.relative_to(package).as_posix()
        for path in package.rglob("*.py")
        if re.search(r"""(get\(|\[)["'](features|geometries)["']""", path.read_text("utf-8"))
    ]
    assert sorted(readers) == ["decoders/geojson.py", "geo/shapes.py"]
