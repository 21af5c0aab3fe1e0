"""Maps from files, made with reference libraries, and drawn by a real browser."""

import asyncio
import math
import os
import sqlite3
import struct
import zlib
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import aiohttp
import numpy as np
import pytest
from matplotlib import image
from playwright.async_api import Page, async_playwright, expect
from pmtiles.tile import Compression, TileType, zxy_to_tileid
from pmtiles.writer import write

from groundstation.errors import ConfigurationError
from groundstation.web.server import Desks, serve
from groundstation.web.settings import MapSettings, WebSettings
from tests.support.browser import CHROMIUM, FLAGS
from tests.support.keeper import WAIT_S
from tests.support.web_scenario import STATION

RED = (200, 30, 30)


def png(red: int, green: int, blue: int) -> bytes:
    """A square of one colour (W3C PNG, colour type 2)."""
    rows = b"".join(b"\0" + bytes((red, green, blue)) * 256 for _ in range(256))
    parts = (
        (b"IHDR", struct.pack("!2I5B", 256, 256, 8, 2, 0, 0, 0)),
        (b"IDAT", zlib.compress(rows)),
        (b"IEND", b""),
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack("!I", len(data)) + kind + data + struct.pack("!I", zlib.crc32(kind + data))
        for kind, data in parts
    )


def tile_at(lat: float, lon: float, z: int) -> tuple[int, int]:
    """The tile that holds a place (OGC Two Dimensional Tile Matrix Set, WebMercatorQuad)."""
    x = int((lon + 180.0) / 360.0 * 2**z)
    y = int((1.0 - math.asinh(math.tan(math.radians(lat))) / math.pi) / 2.0 * 2**z)
    return x, y


def mbtiles(path: Path) -> None:
    """MBTiles 1.3: rows count from the south."""
    connection = sqlite3.connect(path)
    connection.executescript(
        "CREATE TABLE metadata (name TEXT, value TEXT);"
        "CREATE TABLE tiles (zoom_level INTEGER, tile_column INTEGER, tile_row INTEGER,"
        " tile_data BLOB);"
    )
    for z in range(7, 13):
        mx, my = tile_at(47.2, 20.6, z)
        for x in range(mx - 3, mx + 4):
            for y in range(my - 3, my + 4):
                connection.execute(
                    "INSERT INTO tiles VALUES (?, ?, ?, ?)", (z, x, 2**z - 1 - y, png(*RED))
                )
    connection.commit()
    connection.close()


def varint(value: int) -> bytes:
    """Protocol Buffers, "Encoding": seven bits at a time, the lowest first."""
    out = b""
    while value > 127:
        out += bytes((value & 127 | 128,))
        value >>= 7
    return out + bytes((value,))


def zigzag(value: int) -> int:
    return value << 1 if value >= 0 else (-value << 1) - 1


def field(number: int, data: bytes) -> bytes:
    return varint(number << 3 | 2) + varint(len(data)) + data


def vector_map(path: Path) -> None:
    """One great lake over everything (Mapbox Vector Tile 2.1: MoveTo, three LineTo, ClosePath)."""
    square = (9, zigzag(0), zigzag(0), 26, zigzag(4096), zigzag(0), zigzag(0), zigzag(4096),
              zigzag(-4096), zigzag(0), 15)  # fmt: skip
    feature = field(2, bytes((0, 0))) + b"\x18\x03" + field(4, b"".join(map(varint, square)))
    layer = field(1, b"water") + field(2, feature) + field(3, b"kind")
    layer += field(4, field(1, b"water")) + b"\x28" + varint(4096) + b"\x78\x02"
    lake = field(3, layer)
    with write(str(path)) as writer:
        for z in range(11):
            mx, my = tile_at(47.2, 20.6, z)
            for x in range(max(0, mx - 3), min(2**z, mx + 4)):
                for y in range(max(0, my - 3), min(2**z, my + 4)):
                    writer.write_tile(zxy_to_tileid(z, x, y), lake)
        writer.finalize(
            {
                "tile_type": TileType.MVT, "tile_compression": Compression.NONE,
                "min_zoom": 0, "max_zoom": 10, "min_lon_e7": 190_000_000,
                "min_lat_e7": 460_000_000, "max_lon_e7": 220_000_000, "max_lat_e7": 480_000_000,
                "center_zoom": 8, "center_lon_e7": 206_000_000, "center_lat_e7": 472_000_000,
            },
            {},
        )  # fmt: skip


def ramp(lat: np.ndarray[Any, Any], lon: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """A slope of 1 in 10 that rises to the east at 20.6, level elsewhere, unknown in the north."""
    metres = (np.asarray(lon) - 20.6) * 111_320.0 * math.cos(math.radians(47.2))
    height = np.where(np.asarray(lon) > 20.6, 0.1 * metres, 0.0)
    return np.where(np.asarray(lat) > 47.5, np.nan, height)


@asynccontextmanager
async def serving(folder: Path, **more: Any) -> AsyncIterator[str]:
    ready: asyncio.Future[str] = asyncio.get_running_loop().create_future()
    desks = Desks(maps=MapSettings(folder=folder, **more), heights=ramp)
    task = asyncio.create_task(
        serve(WebSettings(port=0), lambda: STATION, desks=desks, ready=ready.set_result)
    )
    try:
        yield await ready
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


async def test_tiles_come_from_the_files_and_from_nowhere_else(tmp_path: Path) -> None:
    (tmp_path / "maps").mkdir()
    mbtiles(tmp_path / "maps" / "plain.mbtiles")
    vector_map(tmp_path / "maps" / "lakes.pmtiles")
    (tmp_path / "secret.mbtiles").write_bytes(b"x")
    (tmp_path / "maps" / "notes.txt").write_text("private")
    async with (
        serving(tmp_path / "maps") as address,
        aiohttp.ClientSession(base_url=address) as client,
    ):
        async with client.get("/api/maps") as answer:
            names = [(one["name"], one["kind"]) for one in await answer.json()]
        assert names == [
            ("lakes", "vector"), ("plain", "raster"), ("terrain", "relief"), ("online", "raster"),
        ]  # fmt: skip
        x, y = tile_at(47.2, 20.6, 9)
        async with client.get(f"/maps/raster/plain.mbtiles/9/{x}/{y}") as answer:
            assert (answer.status, answer.content_type) == (200, "image/png")
            assert await answer.read() == png(*RED)
        async with client.get(f"/maps/raster/plain.mbtiles/9/{x}/{y + 50}") as answer:
            assert answer.status == 204
        whole = (tmp_path / "maps" / "lakes.pmtiles").read_bytes()
        async with client.get("/maps/file/lakes.pmtiles", headers={"Range": "bytes=0-6"}) as answer:
            assert answer.status == 206
            assert await answer.read() == whole[:7] == b"PMTiles"
        for path in (
            "/maps/raster/plain.mbtiles/9/-1/0",
            "/maps/raster/plain.mbtiles/99/0/0", "/maps/raster/plain.mbtiles/9/²/0",
            "/maps/raster/none.mbtiles/9/0/0", "/maps/raster/lakes.pmtiles/9/0/0",
            "/maps/file/plain.mbtiles", "/maps/file/notes.txt", "/maps/file/..%2fsecret.mbtiles",
            "/maps/file/%2e%2e%2f%2e%2e%2fetc%2fpasswd", "/maps/relief/20/1/1",
            "/maps/relief/3/1/1",
        ):  # fmt: skip
            async with client.get(path) as answer:
                assert answer.status == 404, path


async def test_terrain_is_shaded_as_the_sun_would(tmp_path: Path) -> None:
    """Lambert's law, light from the north-west at 45°, slopes three times steeper: of a slope that
    rises 0.3 to the east the brightness is (sqrt 2 + 0.3) / 2 / sqrt(1.09) of 0.7071 when level."""
    x, y = tile_at(47.2, 20.62, 12)
    async with (
        serving(tmp_path) as address,
        aiohttp.ClientSession(base_url=address) as client,
        client.get(f"/maps/relief/12/{x}/{y}") as answer,
    ):
        assert answer.content_type == "image/png"
        (tmp_path / "tile.png").write_bytes(await answer.read())
    tile = image.imread(tmp_path / "tile.png")
    light = (math.sqrt(2.0) + 0.3) / 2.0 / math.sqrt(1.09)
    bright = (light - math.sqrt(0.5)) / (1.0 - math.sqrt(0.5))
    assert tile.shape == (256, 256, 4)
    assert float(tile[128, 250, 0]) == 1.0
    assert float(tile[128, 250, 3]) == pytest.approx(0.4 * bright, abs=0.01)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"tiles": "http://tiles.example.org/{z}/{x}/{y}.png", "attribution": "x"}, "address"),
        ({"tiles": "https://tiles.example.org/{z}/{x}.png", "attribution": "x"}, "address"),
        ({"tiles": "https://a.example/{z}/{x}/{y}; script-src *", "attribution": "x"}, "address"),
        ({"tiles": "https://tiles.example.org/{z}/{x}/{y}.png"}, "attribution"),
    ],
)
def test_an_online_map_must_be_https_and_named(given: dict[str, str], says: str) -> None:
    with pytest.raises(ConfigurationError, match=says):
        MapSettings(**given)  # type: ignore[arg-type]


async def test_pictures_may_come_from_the_online_map_and_nowhere_else(tmp_path: Path) -> None:
    tiles = "https://tiles.example.org/{z}/{x}/{y}.png"
    async with (
        serving(tmp_path, tiles=tiles, attribution="An example") as address,
        aiohttp.ClientSession(base_url=address, cookie_jar=aiohttp.DummyCookieJar()) as client,
    ):
        for said, agreed, ends in (
            ("", False, "img-src 'self' data:"),
            ("online-map=no", False, "img-src 'self' data:"),
            ("online-map=yes", True, "img-src 'self' data: https://tiles.example.org"),
        ):
            async with client.get("/", headers={"Cookie": said}) as answer:
                policy = answer.headers["Content-Security-Policy"]
            async with client.get("/api/maps", headers={"Cookie": said}) as answer:
                [_, online] = await answer.json()
            assert policy.endswith(ends)
            assert online["agreed"] is agreed
            assert online["attribution"] == "An example"


def test_the_standard_tiles_are_named_and_can_be_left_out() -> None:
    assert MapSettings().credit == "© OpenStreetMap contributors"
    assert MapSettings().origin == "https://tile.openstreetmap.org"
    assert MapSettings(tiles="").origin == ""


async def test_there_is_a_map_without_any_file(tmp_path: Path) -> None:
    """The Great Hungarian Plain has no coast, and the Tisza flows through it."""
    async with (
        serving(tmp_path) as address,
        aiohttp.ClientSession(base_url=address) as client,
    ):
        async with client.get("/maps/world/near/27/40") as answer:
            lines = await answer.json()
        assert lines["coast"] == []
        assert len(lines["border"]) > 0
        # The Tisza at Szolnok, 47.17 N 20.20 E (any atlas); the lines are of 1:50 million.
        points = np.array([point for line in lines["river"] for point in line])
        assert np.hypot(points[:, 0] - 47.17, points[:, 1] - 20.2).min() < 0.15
        assert ((points >= (45.0, 20.0)) & (points <= (50.0, 25.0))).all()
        box = {"south": 47.0, "north": 47.5, "west": 20.5, "east": 21.2}
        async with client.get("/api/towns", params=box) as answer:
            names = [one["name"] for one in await answer.json()]
        assert "Karcag" in names
        for path, status in (
            ("/maps/world/near/36/0", 404), ("/maps/world/far/0/0", 404),
            ("/maps/world/near/-1/0", 404), ("/api/towns?south=1", 422),
            ("/api/towns?south=nan&north=2&west=0&east=1", 422),
        ):  # fmt: skip
            async with client.get(path) as answer:
                assert answer.status == status, path


async def most_of_the_map(page: Page, picture: Path) -> tuple[int, ...]:
    """The colour that most of it has: red, green and blue."""
    await page.locator("#map").screenshot(path=picture)
    pixels = image.imread(picture)[..., :3]
    colours, counts = np.unique(
        (255 * pixels).round().astype(int).reshape(-1, 3), axis=0, return_counts=True
    )
    return tuple(int(one) for one in colours[counts.argmax()])


@pytest.mark.live
@pytest.mark.skipif(
    not CHROMIUM.exists() and "CI" not in os.environ, reason=f"there is no {CHROMIUM}"
)
async def test_the_browser_draws_them(tmp_path: Path) -> None:
    """Red squares from the one, the lake's colour from the other."""
    (tmp_path / "maps").mkdir()
    mbtiles(tmp_path / "maps" / "<b>plain.mbtiles")
    vector_map(tmp_path / "maps" / "lakes.pmtiles")
    complaints: list[str] = []
    async with serving(tmp_path / "maps") as address, async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        page = await browser.new_page(viewport={"width": 900, "height": 700})
        page.on("console", lambda message: complaints.append(message.text))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        await page.goto(address)
        await page.wait_for_selector("body.live")
        buttons = page.locator("#layers button")
        await expect(buttons).to_have_text(["<b>plain", "lakes", "terrain", "online map"])
        # Nothing is asked of anybody else until a person says yes.
        await buttons.last.click()
        await expect(page.locator("#online-says")).to_contain_text("tile.openstreetmap.org")
        await page.locator("#online-no").click()
        for name, wanted in (("<b>plain", RED), ("lakes", None)):
            for button in (await buttons.all())[:-1]:
                on = await button.get_attribute("aria-pressed") == "true"
                if on != (await button.inner_text() == name):
                    await button.click()
            async with asyncio.timeout(WAIT_S):
                while True:
                    most = await most_of_the_map(page, tmp_path / "map.png")
                    if most == RED if wanted else most[2] > most[0] + 20:
                        break
                    await asyncio.sleep(0.2)
        assert complaints == []
        await browser.close()
