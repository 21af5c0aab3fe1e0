"""Height of the ground from SRTM tiles (``.hgt``) in a folder.

A tile covers one degree, is named after its south-west corner ("N47E020.hgt"), and holds 1201 or
3601 rows from north to south of as many big-endian 16-bit heights in metres above mean sea level,
the outermost on the degree lines; -32768 marks a void (SRTM data format, USGS, "SRTM Topo Quick
Start").
"""

import math
from functools import lru_cache
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.errors import ConfigurationError

Array = NDArray[np.float64]

VOID: Final = -32_768  # SRTM: no data
SIDES: Final = {1201 * 1201 * 2: 1201, 3601 * 3601 * 2: 3601}
"""Samples along a side, by the file's size in bytes."""

TILES_OPEN: Final = 32  # own choice: more than a flight crosses


class Tiles:
    """The tiles of one folder, mapped into memory when they are first asked for.

    Raises ``ConfigurationError`` for a folder without tiles, and for a file that is none: better
    at the start than in the flight.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._names = {path.name.upper(): path for path in folder.glob("*.[hH][gG][tT]")}
        if not self._names:
            raise ConfigurationError(
                f"{folder} holds no .hgt tile; put some there, named like N47E020.hgt"
            )
        for path in self._names.values():
            if path.stat().st_size not in SIDES:
                raise ConfigurationError(
                    f"{path} has not the size of an SRTM tile (1201 or 3601 samples a side)"
                )
        self._tile = lru_cache(maxsize=TILES_OPEN)(self._open)

    def heights_m(self, latitude_deg: Array, longitude_deg: Array) -> Array:
        """Heights above mean sea level, interpolated between four samples.

        Shapes are alike. Where one of the four is void, the mean of the others is taken; NaN where
        all are, or where there is no tile.
        """
        lat = np.asarray(latitude_deg, dtype=float)
        lon = np.asarray(longitude_deg, dtype=float)
        out = np.full(lat.shape, np.nan)
        south, west = np.floor(lat), np.floor(lon)
        known = np.isfinite(lat) & np.isfinite(lon) & (np.abs(lat) <= 90.0)
        for corner in {(int(a), int(b)) for a, b in zip(south[known], west[known], strict=True)}:
            tile = self._tile(*corner)
            if tile is None:
                continue
            here = known & (south == corner[0]) & (west == corner[1])
            out[here] = _interpolated(tile, lat[here] - corner[0], lon[here] - corner[1])
        return out

    def _open(self, south: int, west: int) -> NDArray[np.int16] | None:
        west = (west + 180) % 360 - 180
        north_south, east_west = "N" if south >= 0 else "S", "E" if west >= 0 else "W"
        name = f"{north_south}{abs(south):02d}{east_west}{abs(west):03d}"
        path = self._names.get(f"{name}.HGT")
        if path is None:
            return None
        side = SIDES[path.stat().st_size]
        return np.memmap(path, dtype=">i2", mode="r", shape=(side, side))


def _interpolated(tile: NDArray[np.int16], north: Array, east: Array) -> Array:
    """Bilinear, at fractions of the tile's degree from its south-west corner."""
    last = tile.shape[0] - 1
    row, column = (1.0 - north) * last, east * last
    top = np.minimum(np.floor(row).astype(int), last - 1)
    left = np.minimum(np.floor(column).astype(int), last - 1)
    down, right = row - top, column - left
    total = np.zeros(north.shape)
    weights = np.zeros(north.shape)
    for below in (0, 1):
        for beside in (0, 1):
            height = tile[top + below, left + beside].astype(float)
            weight = (down if below else 1.0 - down) * (right if beside else 1.0 - right)
            weight = np.where(height == VOID, 0.0, weight)
            total += weight * height
            weights += weight
    with np.errstate(invalid="ignore"):
        return np.where(weights > 0.0, total / weights, math.nan)
