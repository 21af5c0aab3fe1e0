"""The report on the page: made by the station, told step by step, read by whoever may look."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import aiohttp
import pytest
from playwright.async_api import async_playwright, expect

from groundstation.planning.lessons_file import read_lessons
from groundstation.web.door import new_token
from groundstation.web.report_api import ReportState
from groundstation.web.server import Desks, serve
from groundstation.web.settings import AccessSettings, WebSettings
from tests.support.browser import CHROMIUM, FLAGS
from tests.support.live_station import LiveStation
from tests.support.web_scenario import STATION

pytestmark = pytest.mark.live

TOKEN, HASHED = new_token()
OWNER = {"Authorization": f"Bearer {TOKEN}"}
CONFIGURATION = """[[payload]]
name = "kanalas-1"
[[payload.tracker]]
id = "Q0HAB-11"
[[source]]
name = "r"
kind = "recording"
path = "resource:rehearsal.txt"
[source.decoder]
kind = "aprs"
"""


class Made:
    """A desk whose report is there."""

    def __init__(self, file: Path) -> None:
        self._file = file

    def state(self, payload: str) -> ReportState | None:
        return ReportState(made_utc=0.0) if payload == "kanalas-1" else None

    def begin(self, payload: str, *, keep_lesson: bool) -> None:
        raise AssertionError(f"who may only look began {payload}, {keep_lesson}")

    def file(self, payload: str) -> Path | None:
        return self._file if payload == "kanalas-1" else None


@asynccontextmanager
async def running(folder: Path) -> AsyncIterator[str]:
    ready: asyncio.Future[str] = asyncio.get_running_loop().create_future()
    file = folder / "report.html"
    file.write_text("<!doctype html><title>the report</title>")
    desks = Desks(shares=folder / "links.json", reports=Made(file))
    access = (AccessSettings(name="owner", token_hash=HASHED),)
    settings = WebSettings(port=0, access=access)
    task = asyncio.create_task(
        serve(settings, lambda: STATION, desks=desks, ready=ready.set_result)
    )
    try:
        yield await ready
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


async def test_a_shared_link_reads_the_report_and_makes_none(tmp_path: Path) -> None:
    jar = aiohttp.CookieJar(unsafe=True)
    async with (
        running(tmp_path) as address,
        aiohttp.ClientSession(base_url=address, cookie_jar=jar) as session,
    ):
        async with session.get("/report?payload=kanalas-1") as answer:
            assert "the report" not in await answer.text(), "a stranger reads nothing"
        async with session.post("/api/shares", json={"name": "x"}, headers=OWNER) as answer:
            link = (await answer.json())["path"]
        async with session.get(link) as answer:
            assert answer.status == 200
        async with session.get("/report?payload=kanalas-1") as answer:
            assert answer.status == 200
            assert answer.content_type == "text/html"
            assert "script" not in answer.headers["Content-Security-Policy"]
            assert "the report" in await answer.text()
        async with session.post("/api/report", json={"payload": "kanalas-1"}) as answer:
            assert answer.status == 403
        for path in ("/report?payload=none", "/api/report?payload=none", "/report"):
            async with session.get(path) as answer:
                assert answer.status == 404


async def asked(session: aiohttp.ClientSession) -> dict[str, Any]:
    async with session.get("/api/report?payload=kanalas-1") as answer:
        told: dict[str, Any] = await answer.json()
        return told


async def test_a_closed_flight_is_reported_from_the_page(tmp_path: Path) -> None:
    """The bundled flight through the station; a browser closes it, has its report made, opens it,
    and keeps its lesson."""
    station = LiveStation(tmp_path, CONFIGURATION, 600.0)
    await station.start(1_778_919_600.0)
    try:
        await station.reached("landed")
        async with async_playwright() as playwright:
            browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
            page = await browser.new_page(viewport={"width": 360, "height": 740})
            await page.goto(station.address)
            # It opens by itself while there is something to search for, and folds once it is found.
            await expect(page.locator("#search[open]")).to_have_count(1)
            card = page.locator("article.search")
            report_card = page.locator("section.report")
            await expect(report_card).to_be_hidden()
            await card.locator('[data-f="note-found"] > summary').click()
            await card.locator('[data-do="found-heard"]').click()
            await card.locator('[data-do="found"]').click()
            await expect(page.locator("#search:not([open])")).to_have_count(1)
            # It stands by itself, below where it was found, and nothing has to be unfolded for it.
            card = report_card
            await expect(card.locator('[data-do="report"]')).to_be_visible(timeout=30_000)
            await card.locator('[data-do="report"]').click()
            says = card.locator('[data-f="report-says"]')
            await expect(says).to_contain_text("Made ", timeout=60_000)
            await card.locator('[data-f="report-taught"] summary').click()
            await expect(card.locator('[data-f="report-lesson"]')).to_contain_text("[[lesson]]")
            await card.locator('[data-do="keep-lesson"]').click()
            await expect(says).to_contain_text("Its lesson is kept", timeout=60_000)
            assert await page.evaluate("document.documentElement.scrollWidth") <= 360
            async with page.context.expect_page() as opened:
                await card.locator('[data-f="report-link"]').click()
            report = await opened.value
            await expect(report.locator("h1")).to_contain_text("kanalas-1")
            await expect(report.locator("h2", has_text="For the next plan")).to_be_visible()
            # Its own style is let in.
            assert await report.evaluate("getComputedStyle(document.body).fontFamily") != "serif"
            await browser.close()
        [lesson] = read_lessons(station.database.parent / "lessons.toml")
        assert lesson.payload == "kanalas-1"
        async with aiohttp.ClientSession(base_url=station.address) as session:
            told = await asked(session)
            assert told["step"] == ""
            assert told["kept"]
    finally:
        await station.stop()
