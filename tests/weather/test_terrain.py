"""Terrain tiles, made of a real elevation model: that of the Jacksboro fault, which the matplotlib
wheel ships (36.45 to 36.73 N, 84.41 to 84.08 W, 3 arc seconds, from SRTM)."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib import cbook

from groundstation.errors import ConfigurationError
from groundstation.weather.terrain import VOID, Tiles

SIDE = 1201


@pytest.fixture(scope="module")
def model() -> dict[str, Any]:
    found: Any = cbook.get_sample_data("jacksboro_fault_dem.npz")
    return {name: np.array(found[name], dtype=np.float64) for name in found.files}


@pytest.fixture(scope="module")
def folder(model: dict[str, Any], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One tile with the model where it belongs, and voids everywhere else."""
    place = tmp_path_factory.mktemp("tiles")
    tile = np.full((SIDE, SIDE), VOID, dtype=">i2")
    height = np.asarray(model["elevation"])
    top, left = _corner(model)
    rows, columns = height.shape
    tile[top : top + rows, left : left + columns] = height
    (place / "N36W085.hgt").write_bytes(tile.tobytes())
    return place


def _corner(model: dict[str, Any]) -> tuple[int, int]:
    """Row and column of the model's north-west sample in the tile of 3 arc seconds."""
    north, west = float(model["ymax"]), float(model["xmin"])
    return round((37.0 - north) * 1200), round((west + 85.0) * 1200)


def place_of(model: dict[str, Any], row: float, column: float) -> tuple[float, float]:
    top, left = _corner(model)
    return 37.0 - (top + row) / 1200.0, -85.0 + (left + column) / 1200.0


def test_samples_are_found_where_they_are(folder: Path, model: dict[str, Any]) -> None:
    tiles = Tiles(folder)
    height = np.asarray(model["elevation"])
    rng = np.random.default_rng(1)
    rows = rng.integers(1, height.shape[0] - 1, 500)
    columns = rng.integers(1, height.shape[1] - 1, 500)
    places = [place_of(model, int(r), int(c)) for r, c in zip(rows, columns, strict=True)]
    lat, lon = np.array(places).T
    np.testing.assert_allclose(tiles.heights_m(lat, lon), height[rows, columns], atol=1e-3)
    assert height[rows, columns].std() > 50.0


def test_between_samples_it_is_interpolated(folder: Path, model: dict[str, Any]) -> None:
    """Against numpy's own interpolation, along a row and along a column."""
    tiles = Tiles(folder)
    height = np.asarray(model["elevation"])
    columns = np.linspace(10.0, 60.0, 337)
    lat, lon = place_of(model, 40.0, 0.0)
    lons = lon + columns / 1200.0
    expected = np.interp(columns, np.arange(height.shape[1]), height[40])
    np.testing.assert_allclose(tiles.heights_m(np.full(337, lat), lons), expected, atol=0.01)
    rows = np.linspace(10.0, 60.0, 337)
    lat, lon = place_of(model, 0.0, 77.0)
    expected = np.interp(rows, np.arange(height.shape[0]), height[:, 77])
    found = tiles.heights_m(lat - rows / 1200.0, np.full(337, lon))
    np.testing.assert_allclose(found, expected, atol=0.01)


def test_voids_and_missing_tiles(folder: Path, model: dict[str, Any]) -> None:
    tiles = Tiles(folder)
    height = np.asarray(model["elevation"])
    edge_lat, edge_lon = place_of(model, -0.4, 50.0)
    lat = np.array([36.1, 50.0, np.nan, edge_lat])
    lon = np.array([-84.9, 10.0, 20.0, edge_lon])
    found = tiles.heights_m(lat, lon)
    assert np.isnan(found[:3]).all()
    # Beside a void, what is known is taken.
    assert found[3] == pytest.approx(height[0, 50], abs=1e-3)


def test_the_edges_of_a_tile_belong_to_it(tmp_path: Path) -> None:
    tile = np.arange(SIDE, dtype=">i2")[:, None] * np.ones(SIDE, dtype=">i2")
    (tmp_path / "s01e000.HGT").write_bytes(tile.astype(">i2").tobytes())
    tiles = Tiles(tmp_path)
    found = tiles.heights_m(np.array([-1.0, -1e-9, -0.5]), np.array([0.0, 0.99999, 0.5]))
    np.testing.assert_allclose(found, [1200.0, 0.0, 600.0], atol=0.01)


def test_bad_folders_and_tiles_are_said(tmp_path: Path) -> None:
    with pytest.raises(ConfigurationError, match=r"no \.hgt tile"):
        Tiles(tmp_path)
    (tmp_path / "N47E020.hgt").write_bytes(b"\0" * 1000)
    with pytest.raises(ConfigurationError, match="not the size of an SRTM tile"):
        Tiles(tmp_path)
