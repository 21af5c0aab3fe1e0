"""The whole page of a real station in Hungarian, through a flight: nothing of English is left."""

import asyncio
import csv
import os
import re
from collections.abc import AsyncIterator, Iterable
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import aiohttp
import pytest
import pytest_asyncio
from playwright.async_api import Page, async_playwright, expect

from tests.support.browser import CHROMIUM, FLAGS, PHONE
from tests.support.catalogues import catalogue_of
from tests.support.keeper import WAIT_S
from tests.support.live_station import LiveStation

REPLAY = Path(__file__).resolve().parents[2] / "replay"
BEGIN = datetime(2026, 5, 16, 8, 15, tzinfo=UTC)
CONFIGURATION = """
[base]
latitude_deg = 47.10
longitude_deg = 20.30
[[payload]]
name = "kanalas-1"
[[payload.tracker]]
id = "Q0HAB-11"
[payload.plan]
burst_altitude_m = 30000
[payload.plan.landing]
latitude_deg = 47.31
longitude_deg = 20.76
[[source]]
name = "torony"
kind = "recording"
path = "{path}"
[[target]]
name = "telefon"
kind = "terminal"
"""
ALIKE = re.compile(
    r"Natural Earth|groundstation \w+|lessons\.toml|^base$|\bterminal\b|\brecording,"
    r"|\[phones\]|contact = \S+|--tell-targets"
)
"""Names, commands and words of the configuration, which are alike in every language."""

pytestmark = [
    pytest.mark.live,
    pytest.mark.slow,
    pytest.mark.asyncio(loop_scope="module"),
    pytest.mark.skipif(
        not CHROMIUM.exists() and "CI" not in os.environ, reason=f"there is no {CHROMIUM}"
    ),
]

APART = 'script, style, template, noscript, .town, [data-f="notice"]'
"""Towns, and the text for whoever lives there, which is in each language."""
READ = """() => {
  const told = [];
  const walk = document.createTreeWalker(document.documentElement, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const { parentElement: by, textContent } = walk.currentNode;
    if (!by.closest('${APART}')) told.push(textContent);
  }
  for (const one of document.querySelectorAll('[title], [aria-label], [placeholder]')) {
    const named = ['title', 'aria-label', 'placeholder'];
    told.push(...named.map((name) => one.getAttribute(name) ?? ''));
  }
  return told.filter((text) => text.trim());
}""".replace("${APART}", APART)
CUT_OFF = """() => [...document.querySelectorAll('button, summary, h2, h3, .todo, .big')]
  .filter((one) => one.checkVisibility() && one.clientWidth)
  .filter((one) => one.scrollWidth > one.clientWidth + 1)
  .map((one) => one.textContent)"""


def words(texts: Iterable[str]) -> set[str]:
    plain = (ALIKE.sub("", text).lower() for text in texts)
    return {word for text in plain for word in re.findall(r"[^\W\d_]{3,}", text)}


@cache
def english() -> set[str]:
    """Words of the catalogue's English that no Hungarian text has."""
    source: list[str] = []
    told: list[str] = []
    hole = re.compile(r"\{\w+\}")
    for one in catalogue_of("hu"):
        if one.id:
            source += [one.id] if isinstance(one.id, str) else one.id
            told += [one.string] if isinstance(one.string, str) else one.string or ()
    return words(hole.sub("", text) for text in source) - words(told)


def falls_silent(folder: Path) -> Path:
    """The bundled flight, unheard from three minutes after its burst until it has lain a while."""
    rows = [
        row
        for row in csv.reader((REPLAY / "normal.csv").read_text("utf-8").splitlines())
        if row and not row[0].startswith("#")
    ]
    head, *fixes = rows
    time, high = head.index("time"), head.index("alt_m")
    top = max(range(len(fixes)), key=lambda n: float(fixes[n][high]))
    heard = fixes[: top + 9]
    for row in fixes[-12:]:
        later = datetime.fromisoformat(row[time]) + timedelta(minutes=40)
        heard.append([*row[:time], f"{later:%Y-%m-%dT%H:%M:%SZ}", *row[time + 1 :]])
    path = folder / "nema.csv"
    with path.open("w", encoding="utf-8") as file:
        csv.writer(file).writerows([head, *heard])
    return path


@pytest_asyncio.fixture(scope="module", loop_scope="module")
async def station(tmp_path_factory: pytest.TempPathFactory) -> AsyncIterator[LiveStation]:
    folder = tmp_path_factory.mktemp("magyar")
    made = LiveStation(folder, CONFIGURATION.format(path=falls_silent(folder)), 1.0, language="hu")
    await made.start(BEGIN.timestamp())
    yield made
    await made.kill()


@pytest_asyncio.fixture(scope="module", loop_scope="module")
async def page(station: LiveStation) -> AsyncIterator[Page]:
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        context = await browser.new_context(viewport={"width": PHONE[0], "height": PHONE[1]})
        made = await context.new_page()
        await made.goto(station.address)
        await made.wait_for_selector("body.live")
        yield made
        await browser.close()


async def post(station: LiveStation, path: str, body: dict[str, Any]) -> None:
    async with (
        aiohttp.ClientSession() as client,
        client.post(f"{station.address}{path}", json=body) as answer,
    ):
        assert answer.status == 200, await answer.text()


async def instruction(station: LiveStation) -> dict[str, Any]:
    told = await station.until(lambda told: bool(told["payloads"]))
    one: dict[str, Any] = told["payloads"][0]["instruction"]
    return one


async def reached(station: LiveStation, standing: str, *, silent: bool = False) -> None:
    """Run ahead until it stands so."""
    async with asyncio.timeout(300.0):
        while True:
            now = await instruction(station)
            # Once it is searched for, the search opens.
            waits = standing == "due" and now["act"] != "search"
            if now["standing"] == standing and now["silent"] == silent and not waits:
                return
            await post(station, "/api/rehearsal", {"ahead_s": 120.0})
            await asyncio.sleep(0.5)


async def read_all(page: Page) -> list[str]:
    """Every text of the page, with what each touch of its forms brings."""
    told: list[str] = await page.evaluate(READ)
    for kind in await page.locator("#sighting-kinds button").all():
        await kind.click()
        told += await page.locator("#sighting-form").all_inner_texts()
    await page.locator("#sighting-cancel").click()
    return told


async def map_tools_are_in_sight(page: Page) -> None:
    """Without scrolling; for some seconds after a touch the page moves nothing."""
    async with asyncio.timeout(WAIT_S):
        while True:
            await page.evaluate("scrollTo(0, 0)")
            tools = await page.locator("#map-tools").bounding_box()
            if tools is not None and tools["y"] + tools["height"] <= PHONE[1]:
                return
            await asyncio.sleep(0.2)


@pytest.mark.parametrize(
    ("standing", "silent", "sign"),
    [
        ("waiting", False, "◇"),
        ("rising", False, "▲"),
        ("falling", False, "▼"),
        ("falling", True, "○"),
        ("due", False, "▽"),
        ("down", False, "■"),
        ("found", False, "✓"),
    ],
)
async def test_in_no_phase_a_word_of_english_is_left(
    station: LiveStation, page: Page, standing: str, silent: bool, sign: str
) -> None:
    if standing == "found":
        now = await station.until(lambda _: True)
        await post(station, "/api/found", {
            "payload": "kanalas-1", "lat": 47.2, "lon": 20.8, "condition": "damaged",
            "note": "", "time": now["now"],
        })  # fmt: skip
    else:
        await reached(station, standing, silent=silent)
    await expect(page.locator('[data-f="phase-sign"]').first).to_have_text(sign)
    assert await page.locator("html").get_attribute("lang") == "hu"
    if standing == "due":
        await expect(page.locator('[data-f="decimal"]').first).to_contain_text(", 20.")
    told = await read_all(page)
    assert len(told) > 150
    left = {text for text in told if words([text]) & english()}
    assert left == set()
    # A point before decimals, and a comma between thousands, are English too.
    assert [text for text in told if re.search(r"\d\.\d+\s?(?:km|m|mp|%)\b|\d,\d{3}\b", text)] == []
    assert await page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert await page.evaluate(CUT_OFF) == []
    # Once it is searched for, the search stands before the map.
    if standing not in ("due", "down"):
        await map_tools_are_in_sight(page)
