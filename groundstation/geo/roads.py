"""The nearest point of a road, in maps of vector tiles."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import BinaryIO, Final

import numpy as np
from numpy.typing import NDArray

from groundstation.errors import InputFileError
from groundstation.geo.pmtiles import Archive, tile_number
from groundstation.geo.vector_tile import Line, lines
from groundstation.physics.geodesy import MEAN_RADIUS_M, Plane

Array = NDArray[np.float64]

LAYERS: Final = ("roads", "transportation")
"""What the two common open schemas of such maps call their layer of roads."""

NOT_DRIVEN: Final = frozenset(
    {"path", "rail", "ferry", "pier", "footway", "steps", "cycleway", "pedestrian", "transit",
     "aerialway", "aeroway"}
)  # fmt: skip
"""Kinds or classes in those schemas, from memory. Tracks over fields stay in: a car gets near by
them, and a person sees what they are."""

FURTHEST_M: Final = 20_000.0  # own choice: beyond it a road tells nothing of the way to the place
KEPT_TILES: Final = 64  # own choice: those around a landing, some times over


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadPoint:
    """Where the road is nearest, and how far that is from the place; ``name`` where it has one."""

    latitude_deg: float
    longitude_deg: float
    away_m: float
    name: str = ""


@dataclass(frozen=True, slots=True)
class _Way:
    """Of a road: longitude and latitude in degrees, (n, 2)."""

    name: str
    points: Array


class Roads:
    """Those of some PMTiles files; such as can't be read are left out. Safe in threads."""

    def __init__(self, files: Sequence[Path]) -> None:
        self._files = list(files)
        self._ways = lru_cache(KEPT_TILES)(self._read)

    def nearest(self, latitude_deg: float, longitude_deg: float) -> RoadPoint | None:
        """None where no map has a road within some tiles of the place, or it is further than
        ``FURTHEST_M``."""
        if not (abs(latitude_deg) <= 85.0 and math.isfinite(longitude_deg)):
            return None
        plane = Plane(latitude_deg, longitude_deg)
        best: RoadPoint | None = None
        for number in range(len(self._files)):
            for least_m, zoom, x, y in self._tiles(number, latitude_deg, longitude_deg):
                if best is not None and best.away_m <= least_m:
                    break
                for way in self._ways(number, zoom, x, y):
                    found = _closest(plane, way)
                    if found.away_m < (FURTHEST_M if best is None else best.away_m):
                        best = found
        return best

    def _tiles(
        self, number: int, latitude_deg: float, longitude_deg: float
    ) -> list[tuple[float, int, int, int]]:
        """The tile of the place at the deepest zoom and those around it, the nearest first, each
        with how far it is at least: reading one takes a tenth of a second on a small board."""
        try:
            zoom = self._zoom(number)
        except (InputFileError, OSError):
            return []
        side = 1 << zoom
        sine = math.sin(math.radians(latitude_deg))
        across = ((longitude_deg + 180.0) % 360.0) / 360.0 * side
        down = (0.5 - math.log((1.0 + sine) / (1.0 - sine)) / (4.0 * math.pi)) * side
        wide_m = 2.0 * math.pi * MEAN_RADIUS_M * math.cos(math.radians(latitude_deg)) / side
        found = []
        for x in range(int(across) - 1, int(across) + 2):
            for y in range(max(int(down) - 1, 0), min(int(down) + 2, side)):
                east, south = max(x - across, across - x - 1, 0), max(y - down, down - y - 1, 0)
                found.append((wide_m * math.hypot(east, south), zoom, x % side, y))
        return sorted(found)

    def _zoom(self, number: int) -> int:
        with self._files[number].open("rb") as file:
            return Archive(lambda at, size: _piece(file, at, size)).head.zooms[1]

    def _read(self, number: int, zoom: int, x: int, y: int) -> tuple[_Way, ...]:
        try:
            with self._files[number].open("rb") as file:
                archive = Archive(lambda at, size: _piece(file, at, size))
                item = archive.find(tile_number(zoom, x, y))
                if item is None:
                    return ()
                data = _piece(file, archive.head.data[0] + item.offset, item.length)
            return tuple(_way(line, zoom, x, y) for line in lines(data) if _is_driven(line))
        except (InputFileError, OSError):
            return ()


def _piece(file: BinaryIO, at: int, size: int) -> bytes:
    file.seek(at)
    return file.read(size)


def _is_driven(line: Line) -> bool:
    if line.layer not in LAYERS:
        return False
    kinds = {str(line.tags.get(key, "")) for key in ("kind", "kind_detail", "class", "subclass")}
    return not kinds & NOT_DRIVEN


def _way(line: Line, zoom: int, x: int, y: int) -> _Way:
    part = np.add(line.points, (x, y)) / (1 << zoom)
    lon = 360.0 * part[:, 0] - 180.0
    lat = np.degrees(np.arctan(np.sinh(np.pi * (1.0 - 2.0 * part[:, 1]))))
    name = line.tags.get("name") or line.tags.get("ref") or ""
    return _Way(str(name), np.stack([lon, lat], axis=1))


def _closest(plane: Plane, way: _Way) -> RoadPoint:
    """The point of a way that is nearest to the middle of the plane."""
    x, y = plane.to_xy(way.points[:, 1], way.points[:, 0])
    dx, dy = np.diff(x), np.diff(y)
    long = dx**2 + dy**2
    share = np.clip(-(x[:-1] * dx + y[:-1] * dy) / np.where(long > 0.0, long, 1.0), 0.0, 1.0)
    at_x, at_y = x[:-1] + share * dx, y[:-1] + share * dy
    n = int(np.argmin(at_x**2 + at_y**2))
    lat, lon = plane.to_latlon(at_x[n], at_y[n])
    return RoadPoint(
        latitude_deg=float(lat),
        longitude_deg=float(lon),
        away_m=float(math.hypot(at_x[n], at_y[n])),
        name=way.name,
    )
