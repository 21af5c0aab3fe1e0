"""A person who has nothing yet: from the first command to a rehearsal on the phone.

All that is asked of others is asked of stand-ins on this machine; the browser and the commands are
real.
"""

import asyncio
import io
import json
import os
import re
import signal
import sys
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import zxingcpp
from PIL import Image
from playwright.async_api import Page, async_playwright, expect
from pmtiles import writer
from pmtiles.tile import Compression, TileType, zxy_to_tileid

from tests.geo.test_roads import layer, straight
from tests.prepare.test_prepare import PREPARED
from tests.support.browser import CHROMIUM, FLAGS, PHONE
from tests.support.keeper import until
from tests.support.mosquitto import free_port
from tests.support.open_services import Services, country, packed_tile, serving
from tests.support.services import Services as PhoneServices

pytestmark = [
    pytest.mark.live,
    pytest.mark.slow,
    pytest.mark.skipif(
        not CHROMIUM.exists() and "CI" not in os.environ, reason=f"there is no {CHROMIUM}"
    ),
]

ROOT = Path(__file__).resolve().parents[2]
MOST_STEPS = 12
SETUP = (
    "setup", "--no-ask", "--payload", "kanalas-1", "--tracker", "Q0HAB-11", "--kind", "tcp",
    "--set", "host=127.0.0.1", "--set", "port=9", "--base", "47.10, 20.30", "--altitude", "85 m",
    "--flight", "flight.toml",
)  # fmt: skip
ZOOM = 13
ROAD = "Gyümölcs út"
Writer: Any = writer.Writer


class Person:
    """Counts what they type and touch."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.steps: list[str] = []
        self.running: asyncio.subprocess.Process | None = None

    def write(self, name: str, text: str) -> None:
        """A file in an editor."""
        self.steps.append(f"edit {name}")
        (self.folder / name).write_text(text, encoding="utf-8")

    async def types(self, *words: str) -> str:
        """What the command says; it must end well."""
        code, said = await self.tries(*words)
        assert code == 0, said
        return said

    async def tries(self, *words: str) -> tuple[int, str]:
        self.steps.append(" ".join(words))
        process = await self._begin(*words)
        said, _ = await process.communicate()
        assert process.returncode is not None
        return process.returncode, said.decode()

    async def starts(self, *words: str) -> None:
        self.steps.append(" ".join(words))
        self.running = await self._begin(*words)

    async def touches(self, page: Page, what: str) -> None:
        self.steps.append(f"touch {what}")
        await page.locator(what).first.click()

    async def end(self) -> None:
        if self.running is not None and self.running.returncode is None:
            self.running.send_signal(signal.SIGTERM)
            await self.running.communicate()

    async def _begin(self, *words: str) -> asyncio.subprocess.Process:
        return await asyncio.create_subprocess_exec(
            sys.executable, "-m", "groundstation", *words, cwd=self.folder,
            stdin=asyncio.subprocess.DEVNULL, stdout=asyncio.subprocess.PIPE,
            stderr=asyncio.subprocess.STDOUT,
            env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "COLUMNS": "120"},
        )  # fmt: skip


def roads_around(lat: float, lon: float, tiles: int) -> bytes:
    """A build of a map with a road from west to east through each tile about the place."""
    out = io.BytesIO()
    made = Writer(out)
    road = layer("roads", [({"kind": "minor_road", "name": ROAD}, straight(0, 2048, 4096, 2048))])
    wanted = []
    for zoom in range(ZOOM + 1):
        side = 1 << zoom
        x = int((lon + 180.0) / 360.0 * side)
        y = int((1.0 - np.arcsinh(np.tan(np.radians(lat))) / np.pi) / 2.0 * side)
        reach = tiles >> (ZOOM - zoom)
        wanted += [
            (zxy_to_tileid(zoom, column, row), zoom)
            for column in range(max(x - reach, 0), min(x + reach + 1, side))
            for row in range(max(y - reach, 0), min(y + reach + 1, side))
        ]
    for number, _ in sorted(wanted):
        made.write_tile(number, road)
    made.finalize(
        {
            "tile_type": TileType.MVT, "tile_compression": Compression.NONE, "min_zoom": 0,
            "max_zoom": ZOOM, "min_lon_e7": 0, "min_lat_e7": 0, "max_lon_e7": 300_000_000,
            "max_lat_e7": 600_000_000, "center_zoom": 5, "center_lon_e7": 0, "center_lat_e7": 0,
        },
        {"attribution": "© invented"},
    )  # fmt: skip
    return out.getvalue()


@pytest.fixture
def services() -> Iterator[Services]:
    with serving(Services(run_utc=datetime.now(UTC).timestamp() - 21_600.0)) as made:
        for south in range(45, 50):
            for west in range(17, 25):
                name = f"N{south}E{west:03d}"
                made.files[f"/skadi/{name[:3]}/{name}.hgt.gz"] = packed_tile(90)
        for code in ("HU", "RO", "RS", "SK", "HR", "UA", "BA", "AT", "SI", "PL", "CZ"):
            made.files[f"/dump/{code}.zip"] = country(
                code, [("Kanalaspuszta", 47.05, 20.31, "P", "PPL", 40)] if code == "HU" else []
            )
        yield made


def flight_file(launch: datetime) -> str:
    text = (ROOT / "config" / "flight.toml").read_text(encoding="utf-8")
    return re.sub(r"(?m)^launch = .*$", f'launch = "{launch.isoformat()}"', text)


def link_of(picture: Path) -> str:
    """The address that a phone's camera reads."""
    [seen] = zxingcpp.read_barcodes(Image.open(picture).convert("L"))
    return str(seen.text)


@asynccontextmanager
async def phone_at(address: str) -> AsyncIterator[Page]:
    """The page as the phone has it that opened the link, by the station's own certificate."""
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=str(CHROMIUM), args=FLAGS)
        context = await browser.new_context(
            viewport={"width": PHONE[0], "height": PHONE[1]}, ignore_https_errors=True,
            geolocation={"latitude": 47.05, "longitude": 20.55}, permissions=["geolocation"],
        )  # fmt: skip
        page = await context.new_page()
        await page.goto(address)
        await page.wait_for_selector("body.live")
        yield page
        await browser.close()


async def test_from_nothing_to_a_rehearsal_on_the_phone(tmp_path: Path, services: Services) -> None:
    person = Person(tmp_path)
    launch = (datetime.now(UTC) + timedelta(days=1)).replace(
        hour=8, minute=0, second=0, microsecond=0
    )
    async with PhoneServices() as push:
        try:
            await _goes(person, services, push, launch)
        finally:
            await person.end()
    assert len(person.steps) <= MOST_STEPS, person.steps


async def test_without_anybody_each_step_says_what_is_missing_and_goes_on(tmp_path: Path) -> None:
    person = Person(tmp_path)
    launch = datetime.now(UTC) + timedelta(days=1)
    person.write("flight.toml", flight_file(launch))
    nobody = "http://127.0.0.1:9"
    code, said = await person.tries(*SETUP, "--phone", "ntfy://127.0.0.1:9/x", "--wait", "0.1")
    assert code == 1
    assert "station.toml written" in said
    assert "FAIL  target phone: no connection to the service" in said
    assert re.search(r"FAIL  source tracker: .*127\.0\.0\.1:9", said), said
    text = (tmp_path / "station.toml").read_text(encoding="utf-8")
    port = free_port()
    person.write("station.toml", f"{text}{PREPARED.format(address=nobody)}\n[web]\nport = {port}\n")
    code, said = await person.tries("prepare", "--config", "station.toml")
    assert code != 0
    for part in ("forecast", "terrain", "villages", "map"):
        assert re.search(rf"(?m)^{part}: not brought: .*see whether there is a network", said), said
    code, said = await person.tries("phone", "--config", "station.toml", "--network", "--write")
    assert "/login#token=" in said
    assert "FAIL  target phone" in said
    await person.types("simulate", "--start", launch.isoformat(), "--out", "flight.csv")
    try:
        await person.starts(
            "run", "--config", "station.toml", "--recording", "flight.csv", "--speed", "120"
        )
        await until(lambda: _listens(port))
    finally:
        await person.end()


async def _goes(person: Person, services: Services, push: PhoneServices, launch: datetime) -> None:
    folder = person.folder
    person.write("flight.toml", flight_file(launch))
    said = await person.types(
        *SETUP, "--no-check", "--phone", f"ntfy://127.0.0.1:{push.port}/kanalas-7Qm2xW"
    )
    assert "groundstation phone --config station.toml" in said
    said = await person.types(
        "simulate", "--start", launch.isoformat(), "--out", "flight.csv", "--truth", "truth.json"
    )
    truth = json.loads((folder / "truth.json").read_text())
    services.files["/build.pmtiles"] = roads_around(truth["lat"], truth["lon"], 12)
    port = free_port()
    text = (folder / "station.toml").read_text(encoding="utf-8")
    text += PREPARED.format(address=services.address).replace("map_zoom = 9", f"map_zoom = {ZOOM}")
    person.write("station.toml", f"{text}\n[web]\nport = {port}\n")
    said = await person.types("prepare", "--config", "station.toml", "--radius", "150 km")
    for part in ("forecast", "terrain", "villages", "map"):
        assert re.search(rf"(?m)^{part}: .* MB from ", said), said
    await person.types(
        "phone", "--config", "station.toml", "--network", "--write", "--code", "code.png"
    )
    assert push.pushed
    push.pushed.clear()
    await person.starts(
        "run", "--config", "station.toml", "--recording", "flight.csv", "--speed", "120",
        "--tell-targets", "--log-level", "warning",
    )  # fmt: skip
    person.steps.append("scan the code")
    await until(lambda: _listens(port))
    async with phone_at(link_of(folder / "code.png")) as page:
        await _on_the_phone(person, page, push)


def _listens(port: int) -> bool:
    return any(
        line.split()[1].endswith(f":{port:04X}") and line.split()[3] == "0A"
        for line in Path("/proc/net/tcp").read_text().splitlines()[1:]
    )


async def _on_the_phone(person: Person, page: Page, push: PhoneServices) -> None:
    first = page.locator("#guides")
    await expect(first).to_contain_text(re.compile("Descending|Landed"), timeout=300_000)
    await person.touches(page, "#locate")
    far = page.locator('[data-f="far"]').first
    await expect(far).to_contain_text("of you")
    assert await page.locator("#map canvas").count() > 0
    await page.evaluate("() => { window.went = []; window.open = (to) => window.went.push(to); }")
    await person.touches(page, '[data-do="drive"]')
    await person.touches(page, '#drive .choices button:has-text("OpenStreetMap")')
    [went] = await page.evaluate("() => window.went")
    assert re.match(r"https://www\.openstreetmap\.org/directions\?.*route=47\.05", went), went
    await expect(page.locator('[data-f="walk"]').first).to_contain_text(f"By {ROAD}, then ")
    told = [message["title"] for message in push.pushed]
    assert any("launched" in title for title in told), told
    [burst] = [message["message"] for message in push.pushed if "burst" in message["title"]]
    assert re.search(r"km [NSEW]+ of \w+", burst), burst
