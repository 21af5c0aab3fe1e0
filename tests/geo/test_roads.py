"""The nearest road in vector tiles: the specification's example, and distances by GeographicLib."""

import contextlib
import io
import math
from pathlib import Path
from typing import Any

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st
from pmtiles import writer
from pmtiles.tile import Compression, TileType, zxy_to_tileid

from groundstation.errors import InputFileError
from groundstation.geo.roads import Roads
from groundstation.geo.vector_tile import lines

Writer: Any = writer.Writer
ZOOM = 13


def varint(value: int) -> bytes:
    out = b""
    while value > 127:
        out += bytes((value & 127 | 128,))
        value >>= 7
    return out + bytes((value,))


def field(number: int, data: bytes) -> bytes:
    return varint(number << 3 | 2) + varint(len(data)) + data


def layer(name: str, features: list[tuple[dict[str, str], list[int]]]) -> bytes:
    """Of lines, each with its tags and its geometry in the specification's commands."""
    texts = sorted({text for tags, _ in features for pair in tags.items() for text in pair})
    data = field(1, name.encode())
    for tags, geometry in features:
        numbers = b"".join(
            varint(texts.index(key)) + varint(texts.index(value)) for key, value in tags.items()
        )
        told = field(2, numbers) + b"\x18\x02" + field(4, b"".join(map(varint, geometry)))
        data += field(2, told)
    data += b"".join(field(3, text.encode()) for text in texts)
    data += b"".join(field(4, field(1, text.encode())) for text in texts)
    return field(3, data + b"\x28" + varint(4096) + b"\x78\x02")


def test_a_line_is_read_as_the_specification_shows_it() -> None:
    """Mapbox Vector Tile 2.1, 4.3.5.3 and 4.3.5.4: 9 4 4 18 0 16 16 0 is (2,2) (2,10) (10,10), and
    with 9 17 17 10 4 8 after it a second line (1,1) (3,5)."""
    geometry = [9, 4, 4, 18, 0, 16, 16, 0, 9, 17, 17, 10, 4, 8]
    first, second = lines(layer("roads", [({"kind": "minor_road"}, geometry)]))
    assert [(4096 * x, 4096 * y) for x, y in first.points] == [(2, 2), (2, 10), (10, 10)]
    assert [(4096 * x, 4096 * y) for x, y in second.points] == [(1, 1), (3, 5)]
    assert first.tags == {"kind": "minor_road"}
    assert first.layer == "roads"


@given(st.binary(max_size=300))
def test_whatever_a_tile_holds_is_read_or_refused(data: bytes) -> None:
    with contextlib.suppress(InputFileError):
        lines(data)


def zigzag(value: int) -> int:
    return (value << 1) ^ (value >> 31)


def straight(x0: int, y0: int, x1: int, y1: int) -> list[int]:
    return [9, zigzag(x0), zigzag(y0), 10, zigzag(x1 - x0), zigzag(y1 - y0)]


@pytest.fixture(scope="module")
def village(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, int, int]:
    """A road from west to east through the middle of a tile, a path nearer to its south, and in the
    tile to the east a road along its western edge."""
    x, y = 4565, 2879  # the tile of 47.1 N 20.65 E at zoom 13, by the usual formula
    own = layer(
        "roads",
        [({"kind": "minor_road", "name": "Fő út"}, straight(0, 2048, 4096, 2048)),
         ({"kind": "path"}, straight(0, 3000, 4096, 3000))],
    )  # fmt: skip
    east = layer("transportation", [({"class": "secondary"}, straight(40, 0, 40, 4096))])
    out = io.BytesIO()
    made = Writer(out)
    for number, tile in sorted(
        [(zxy_to_tileid(ZOOM, x, y), own), (zxy_to_tileid(ZOOM, x + 1, y), east)]
    ):
        made.write_tile(number, tile)
    made.finalize(
        {
            "tile_type": TileType.MVT, "tile_compression": Compression.NONE, "min_zoom": ZOOM,
            "max_zoom": ZOOM, "min_lon_e7": 0, "min_lat_e7": 0, "max_lon_e7": 0, "max_lat_e7": 0,
            "center_zoom": 0, "center_lon_e7": 0, "center_lat_e7": 0,
        },
        {},
    )  # fmt: skip
    path = tmp_path_factory.mktemp("maps") / "village.pmtiles"
    path.write_bytes(out.getvalue())
    return path, x, y


def place(x: float, y: float) -> tuple[float, float]:
    """Latitude and longitude of a place in tiles (spherical Mercator)."""
    side = 1 << ZOOM
    lat = math.degrees(math.atan(math.sinh(math.pi * (1.0 - 2.0 * y / side))))
    return lat, 360.0 * x / side - 180.0


def test_the_nearest_road_is_one_that_is_driven(village: tuple[Path, int, int]) -> None:
    path, x, y = village
    roads = Roads([path])
    at = place(x + 0.5, y + 0.75)
    found = roads.nearest(*at)
    assert found is not None
    assert found.name == "Fő út"
    on_it = place(x + 0.5, y + 0.5)
    assert (found.latitude_deg, found.longitude_deg) == pytest.approx(on_it, abs=2e-6)
    line = Geodesic.WGS84.Inverse(*at, *on_it)
    assert found.away_m == pytest.approx(line["s12"], rel=1e-4)


def test_a_road_across_the_edge_of_a_tile_may_be_nearer(village: tuple[Path, int, int]) -> None:
    path, x, y = village
    found = Roads([path]).nearest(*place(x + 0.98, y + 0.9))
    assert found is not None
    assert found.name == ""
    assert found.longitude_deg == pytest.approx(place(x + 1 + 40 / 4096, y)[1], abs=2e-6)


def test_where_no_map_has_a_road_there_is_none(
    village: tuple[Path, int, int], tmp_path: Path
) -> None:
    path, _, _ = village
    assert Roads([path]).nearest(10.0, 10.0) is None
    assert Roads([]).nearest(47.1, 20.65) is None
    (tmp_path / "none.pmtiles").write_bytes(b"PMTiles\x03 no more")
    assert Roads([tmp_path / "none.pmtiles"]).nearest(47.1, 20.65) is None
    assert Roads([path]).nearest(math.nan, 0.0) is None
