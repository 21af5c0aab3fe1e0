"""Maps from files, so that they are there without a network, and shaded terrain.

``*.pmtiles`` (vector, PMTiles 3) are given out in pieces as a page asks for them; ``*.mbtiles``
(raster, MBTiles 1.3) by tile. Names come from the folder's listing, never from a path in a request.
"""

import asyncio
import contextlib
import math
import sqlite3
import struct
import zlib
from collections.abc import Callable, Iterable, Iterator
from functools import lru_cache
from pathlib import Path
from typing import Final

import numpy as np
from aiohttp import hdrs, web
from numpy.typing import NDArray

from groundstation.geo.roads import Roads
from groundstation.httpd import Routes
from groundstation.schema.encode import record_json
from groundstation.web.guard import agreed_online
from groundstation.web.search_records import MapTold
from groundstation.web.settings import STANDARD_ATTRIBUTION, MapSettings

Array = NDArray[np.float64]
Heights = Callable[[Array, Array], Array]
"""Latitudes and longitudes in degrees to metres above the sea; NaN where unknown."""

TILE: Final = 256  # pixels, as map tiles have (common practice)
RELIEF_ZOOMS: Final = (7, 14)  # own choice: wider shows nothing, nearer the terrain has no more
KEPT_TILES: Final = 128  # own choice: a screen of a phone, some times over
DEEPEST: Final = 24  # own choice: beyond any map's zoom
KEEP_S: Final = 86_400  # own choice: a day in the browser's cache
_IMAGES: Final = ((b"\x89PNG", "image/png"), (b"\xff\xd8", "image/jpeg"), (b"RIFF", "image/webp"))


class Maps:
    """What the page may draw under the flight. ``heights`` is where terrain is known, ``prepared``
    the folder of what was fetched beforehand, whose maps are of OpenStreetMap."""

    def __init__(
        self,
        settings: MapSettings,
        heights: Heights | None,
        prepared: Path | None = None,
        terrain_credit: str = "",
    ) -> None:
        self._settings = settings
        self._terrain_credit = terrain_credit
        self._fetched = None if prepared is None else prepared / "maps"
        self._files = {
            path.name: path for each in (self._fetched, settings.folder) for path in _listed(each)
        }
        self._relief = None if heights is None else lru_cache(KEPT_TILES)(_Relief(heights).tile)

    def add_to(self, routes: Routes) -> None:
        routes.add("GET", "/api/maps", self._told)
        routes.add("GET", "/maps/file/{name}", self._file)
        routes.add("GET", "/maps/raster/{name}/{z}/{x}/{y}", self._raster)
        routes.add("GET", "/maps/relief/{z}/{x}/{y}", self._shaded)

    @property
    def roads(self) -> Roads:
        """Of the vector maps that there are."""
        return Roads([path for path in self._files.values() if path.suffix == ".pmtiles"])

    def _maps(self, agreed: bool) -> Iterator[MapTold]:
        """Each with what the page needs to draw it; the first one is drawn first."""
        for name, path in sorted(self._files.items()):
            if path.suffix == ".pmtiles":
                credit = STANDARD_ATTRIBUTION if path.parent == self._fetched else ""
                yield MapTold(
                    name=path.stem, kind="vector", address=f"/maps/file/{name}", attribution=credit
                )
            else:
                address = f"/maps/raster/{name}/{{z}}/{{x}}/{{y}}"
                yield MapTold(name=path.stem, kind="raster", address=address)
        if self._relief is not None:
            yield MapTold(
                name="terrain",
                kind="relief",
                address="/maps/relief/{z}/{x}/{y}",
                zooms=RELIEF_ZOOMS,
                attribution=self._terrain_credit,
            )
        if self._settings.tiles:
            yield MapTold(
                name="online",
                kind="raster",
                address=self._settings.tiles,
                attribution=self._settings.credit,
                agreed=agreed,
            )

    async def _told(self, request: web.Request) -> web.Response:
        agreed = agreed_online(request)
        return web.json_response([record_json(shown_map) for shown_map in self._maps(agreed)])

    def _known(self, request: web.Request, suffix: str) -> Path:
        path = self._files.get(request.match_info["name"])
        if path is None or path.suffix != suffix:
            raise web.HTTPNotFound
        return path

    async def _file(self, request: web.Request) -> web.StreamResponse:
        path = self._known(request, ".pmtiles")
        return web.FileResponse(path, headers={hdrs.CONTENT_TYPE: "application/octet-stream"})

    async def _raster(self, request: web.Request) -> web.Response:
        path = self._known(request, ".mbtiles")
        z, x, y = _numbers(request)
        data = await asyncio.to_thread(_tile_of, path, z, x, 2**z - 1 - y)
        if data is None:
            # Not an error: a file covers some places at some scales.
            return web.Response(status=204)
        kind = next((kind for begin, kind in _IMAGES if data.startswith(begin)), None)
        if kind is None:
            raise web.HTTPUnsupportedMediaType(text="this map holds no pictures\n")
        return _picture(data, kind)

    async def _shaded(self, request: web.Request) -> web.Response:
        z, x, y = _numbers(request)
        if self._relief is None or not RELIEF_ZOOMS[0] <= z <= RELIEF_ZOOMS[1]:
            raise web.HTTPNotFound
        return _picture(await asyncio.to_thread(self._relief, z, x, y), "image/png")


def _listed(folder: Path | None) -> Iterable[Path]:
    if folder is None or not folder.is_dir():
        return ()
    return (path for path in folder.iterdir() if path.suffix in (".pmtiles", ".mbtiles"))


def _numbers(request: web.Request) -> tuple[int, int, int]:
    texts = [request.match_info[name] for name in "zxy"]
    if not all(text.isascii() and text.isdigit() and len(text) < 9 for text in texts):
        raise web.HTTPNotFound
    z, x, y = (int(text) for text in texts)
    if z > DEEPEST or x >= 2**z or y >= 2**z:
        raise web.HTTPNotFound
    return z, x, y


def _picture(data: bytes, kind: str) -> web.Response:
    headers = {hdrs.CACHE_CONTROL: f"private, max-age={KEEP_S}"}
    return web.Response(body=data, content_type=kind, headers=headers)


def _tile_of(path: Path, z: int, x: int, row: int) -> bytes | None:
    """A tile of an MBTiles file, whose rows count from the south."""
    try:
        with contextlib.closing(
            sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro&immutable=1", uri=True)
        ) as connection:
            found = connection.execute(
                "SELECT tile_data FROM tiles WHERE zoom_level = ? AND tile_column = ?"
                " AND tile_row = ?",
                (z, x, row),
            ).fetchone()
    except sqlite3.Error:
        return None
    return bytes(found[0]) if found else None


class _Relief:
    """Hills shaded as if lit from the north-west, 45° high (Horn 1981, Proc. IEEE 69), as a dark
    veil to be laid over whatever is below."""

    STEEPER: Final = 3.0
    """So that a plain shows something too."""

    def __init__(self, heights: Heights) -> None:
        self._heights = heights

    def tile(self, z: int, x: int, y: int) -> bytes:
        side = TILE + 2
        across = (x + (np.arange(side) - 0.5) / TILE) / 2**z
        down = (y + (np.arange(side) - 0.5) / TILE) / 2**z
        lon = 360.0 * across - 180.0
        lat = np.degrees(np.arctan(np.sinh(np.pi * (1.0 - 2.0 * down))))
        lons, lats = np.meshgrid(lon, lat)
        height = self._heights(lats, lons)
        pixel_m = 40_075_017.0 / 2**z / TILE * math.cos(math.radians(float(lat[TILE // 2])))
        east = self.STEEPER * (height[1:-1, 2:] - height[1:-1, :-2]) / (2.0 * pixel_m)
        south = self.STEEPER * (height[2:, 1:-1] - height[:-2, 1:-1]) / (2.0 * pixel_m)
        # The sun's direction is (-1, -1, sqrt 2) / 2 in east, south, up.
        light = (math.sqrt(2.0) + east + south) / 2.0 / np.sqrt(1.0 + east**2 + south**2)
        flat = math.sqrt(0.5)
        dark = np.clip((flat - light) / flat, 0.0, 1.0)
        bright = np.clip((light - flat) / (1.0 - flat), 0.0, 1.0)
        veil = np.where(np.isfinite(light), np.maximum(0.75 * dark, 0.4 * bright), 0.0)
        tone = np.where(bright > dark, 255, 0)
        return _png(tone.astype(np.uint8), (255.0 * veil).astype(np.uint8))


def _png(tone: NDArray[np.uint8], veil: NDArray[np.uint8]) -> bytes:
    """Grey with alpha (PNG, W3C Recommendation, colour type 4)."""
    height, width = tone.shape
    rows = np.zeros((height, 1 + 2 * width), dtype=np.uint8)
    rows[:, 1::2], rows[:, 2::2] = tone, veil
    parts = (
        (b"IHDR", struct.pack("!2I5B", width, height, 8, 4, 0, 0, 0)),
        (b"IDAT", zlib.compress(rows.tobytes(), 6)),
        (b"IEND", b""),
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack("!I", len(data)) + kind + data + struct.pack("!I", zlib.crc32(kind + data))
        for kind, data in parts
    )
