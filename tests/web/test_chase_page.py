"""A real flight on the page, in a real browser: from the climb to the note that it is found."""

import asyncio
import json
import os
import re
from collections.abc import AsyncIterator
from datetime import datetime
from pathlib import Path
from typing import Any

import aiohttp
import pytest
import pytest_asyncio
from axe_playwright_python.async_playwright import Axe
from playwright.async_api import Browser, BrowserContext, Page, async_playwright, expect

from groundstation.recordings.read_any import read_recording
from groundstation.records import Report
from tests.support.browser import CHROMIUM, DESKTOP, FLAGS, PHONE
from tests.support.live_station import LiveStation

SCREENS = Path(__file__).resolve().parents[2] / "build" / "screens"
SPEED = 150.0
CONFIGURATION = """
[base]
latitude_deg = {lat}
longitude_deg = {lon}
[[payload]]
name = "flight"
[[payload.tracker]]
id = "{tracker}"
[payload.plan]
burst_altitude_m = 30000
[map]
hazards = "{hazards}"
[[source]]
name = "recorded"
kind = "recording"
path = "{path}"
"""

COMPLAINTS: dict[Page, list[str]] = {}

pytestmark = [
    pytest.mark.live,
    pytest.mark.slow,
    pytest.mark.asyncio(loop_scope="module"),
    pytest.mark.skipif(
        not CHROMIUM.exists() and "CI" not in os.environ, reason=f"there is no {CHROMIUM}"
    ),
]


@pytest_asyncio.fixture(scope="module", loop_scope="module")
async def browser() -> AsyncIterator[Browser]:
    async with async_playwright() as playwright:
        launched = await playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        yield launched
        await launched.close()


@pytest_asyncio.fixture(scope="module", loop_scope="module")
async def station(
    shared: Path, tmp_path_factory: pytest.TempPathFactory
) -> AsyncIterator[LiveStation]:
    """f06 of the real flights, from a while before its burst on."""
    path = shared / "flights" / "packets" / "f06.txt"
    recording = read_recording(path)
    reports = [
        report
        for frame in recording.frames
        for report in recording.decoder.decode(frame.data, frame.received_utc)
        if isinstance(report, Report)
    ]
    folder = tmp_path_factory.mktemp("chase")
    hazards = folder / "hazards.geojson"
    first, last = reports[0], reports[-1]
    lat, lon = last.latitude_deg, last.longitude_deg
    line = [[lon - 0.1, lat], [lon + 0.1, lat]]
    hazards.write_text(json.dumps({"type": "FeatureCollection", "features": [{
        "type": "Feature", "properties": {"kind": "power line", "name": "<b>L1</b>"},
        "geometry": {"type": "LineString", "coordinates": line}}]}))  # fmt: skip
    text = CONFIGURATION.format(
        lat=first.latitude_deg, lon=first.longitude_deg, tracker=first.tracker, path=path,
        hazards=hazards,
    )  # fmt: skip
    made = LiveStation(folder, text, SPEED)
    await made.start(recording.frames[0].received_utc - 30.0)
    yield made
    await made.kill()


async def opened(
    browser: Browser, station: LiveStation, size: tuple[int, int] = PHONE, **more: Any
) -> tuple[BrowserContext, Page]:
    context = await browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        geolocation={"latitude": 37.0, "longitude": -120.0},
        permissions=["geolocation"],
        **more,
    )
    page = await context.new_page()
    COMPLAINTS[page] = complaints = []
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    await page.goto(station.address)
    await page.wait_for_selector("body.live")
    return context, page


async def payload_of(station: LiveStation) -> dict[str, Any]:
    told = await station.until(lambda told: bool(told["payloads"]))
    one: dict[str, Any] = told["payloads"][0]
    return one


async def reached(station: LiveStation, phase: str, limit_s: float = 120.0) -> None:
    async with asyncio.timeout(limit_s):
        await station.reached(phase)


async def at_speed(station: LiveStation, speed: float) -> None:
    """So many times real time from now on, at 0 held, however busy the machine is."""
    async with (
        aiohttp.ClientSession() as client,
        client.post(f"{station.address}/api/rehearsal", json={"speed": speed}) as answer,
    ):
        assert answer.status == 200, await answer.text()


async def pace(page: Page, what: str) -> None:
    if await page.locator("#rehearsal[open]").count() == 0:
        await page.locator("#rehearsal > summary").click()
    await page.locator("#pacing").get_by_role("button", name=what, exact=True).click()


async def text(page: Page, name: str) -> str:
    inside = "#guides" if name == "payload" else "main"
    found = page.locator(f'{inside} [data-f="{name}"]').first
    return " ".join((await found.text_content() or "").split())


async def test_held_in_the_fall_page_and_api_agree(browser: Browser, station: LiveStation) -> None:
    await reached(station, "descent")
    top_m = (await payload_of(station))["last"]["altitude_m"]
    # Some of the fall is seen before it is held, and it is held before it is over.
    await station.until(lambda told: told["payloads"][0]["last"]["altitude_m"] < top_m - 2_000.0)
    await at_speed(station, 0.0)
    context, page = await opened(browser, station)
    await expect(page.locator(".fall .seen").nth(1)).to_be_attached()
    await pace(page, "1×")
    await expect(page.locator("#pace")).not_to_have_text("recorded flight, held")
    await pace(page, "Hold")
    await expect(page.locator("#pace")).to_have_text("recorded flight, held")
    while True:  # what was under way when it was held comes a moment later
        told = await payload_of(station)
        landing, last = told["landing"], told["last"]
        said = {
            "landing-point": f"{landing['lat']:.5f}, {landing['lon']:.5f}",
            "last-point": f"{last['lat']:.5f}, {last['lon']:.5f}",
            "height": f"{last['altitude_m']:,.0f}",
        }
        if {name: await text(page, name) for name in said} == said:
            break
        await asyncio.sleep(0.1)
    assert await text(page, "phase") == "Descending"
    assert "burst" in " ".join(await page.locator("#map .mark span").all_inner_texts())
    assert await page.locator(".climb .flown").count() == 1
    assert await page.locator(".fall .seen").count() >= 2
    assert await page.locator("#map .net-hazard").inner_text() == "power line <b>L1</b>"
    SCREENS.mkdir(parents=True, exist_ok=True)
    await page.screenshot(path=SCREENS / "phone-falling.png", full_page=True)
    assert COMPLAINTS[page] == []
    await context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
async def test_axe_finds_nothing_serious(
    browser: Browser, station: LiveStation, scheme: str
) -> None:
    """axe-core (Deque), its rules for WCAG 2 A and AA, with everything spread out."""
    for size in (PHONE, DESKTOP):
        # The tool's own script is put in by the test, which the page's policy forbids.
        context, page = await opened(browser, station, size, color_scheme=scheme, bypass_csp=True)
        for summary in await page.locator(
            "main > details > summary, aside > details > summary, .landing summary"
        ).all():
            await summary.click()
        await asyncio.sleep(1.5)
        found = await Axe().run(page)
        serious = [
            (one["id"], [node["target"] for node in one["nodes"]])
            for one in found.response["violations"]
            if one["impact"] in ("serious", "critical")
        ]
        assert serious == []
        await context.close()


async def test_the_page_is_small_and_asks_nobody_else(
    browser: Browser, station: LiveStation
) -> None:
    """At most 400 kB before maps, and every request goes to the station itself."""
    context = await browser.new_context(viewport={"width": PHONE[0], "height": PHONE[1]})
    page = await context.new_page()
    session = await context.new_cdp_session(page)
    await session.send("Network.enable")
    sizes: list[int] = []
    asked: list[str] = []
    session.on("Network.dataReceived", lambda event: sizes.append(event["encodedDataLength"]))
    page.on("request", lambda request: asked.append(request.url))
    await page.goto(station.address)
    await page.wait_for_selector("body.live")
    await asyncio.sleep(1.0)
    assert sum(sizes) < 400_000
    assert len(asked) < 40
    assert all(url.startswith(station.address) for url in asked)
    await context.close()


async def test_without_a_network_it_shows_the_last_as_old_and_comes_back(
    browser: Browser, station: LiveStation
) -> None:
    context, page = await opened(browser, station)
    point = await text(page, "landing-point")
    # The worker has the shell before it is ready.
    await page.evaluate("() => navigator.serviceWorker.ready.then(() => true)")
    await page.reload()
    await page.wait_for_selector("body.live")
    await page.wait_for_function(
        "async () => localStorage.length > 0 && await caches.match('/') !== undefined"
    )
    await context.set_offline(True)
    await page.reload()
    await expect(page.locator("#contact")).to_have_text(re.compile("all below is old"))
    assert await text(page, "landing-point") == point
    assert await page.locator("body.old").count() == 1
    await context.set_offline(False)
    await page.wait_for_selector("body.live", timeout=60_000)
    await context.close()


async def test_the_station_starts_again_and_the_page_goes_on(
    browser: Browser, station: LiveStation
) -> None:
    context, page = await opened(browser, station)
    told = await station.until(lambda _: True)
    await page.evaluate("() => { window.stays = true; }")
    await station.kill()
    await expect(page.locator("body.old")).to_have_count(1)
    await station.start(datetime.fromisoformat(told["now"]).timestamp())
    await at_speed(station, 0.0)
    await page.wait_for_selector("body.live", timeout=60_000)
    assert await page.evaluate("() => window.stays")
    await expect(page.locator('main [data-f="phase"]').first).to_have_text("Descending")
    await expect(page.locator(".climb .flown")).to_have_count(1)
    await context.close()


async def test_an_alert_is_marked_as_seen_on_another_phone_too(
    browser: Browser, station: LiveStation
) -> None:
    here, page = await opened(browser, station)
    there, other = await opened(browser, station)
    told = await station.until(lambda told: bool(told["messages"]))
    button = f'#messages [data-key="{told["messages"][0]["key"]}"]'
    await page.locator(button).click()
    await expect(other.locator(button)).to_have_text("✓ Seen")
    await here.close()
    await there.close()


async def test_the_crew_sees_who_says_where_they_are(
    browser: Browser, station: LiveStation
) -> None:
    here, page = await opened(browser, station)
    there, other = await opened(browser, station, DESKTOP)
    # Between two updates the page lets all ages run on, at the rehearsal's pace.
    await pace(page, "Hold")
    await page.locator("#crew > summary").click()
    await page.locator("#crew-name").fill("Kék <i>autó</i>")
    await page.locator("#tell").click()
    await expect(page.locator("#tell-says")).to_have_text("The others see you as Kék <i>autó</i>.")
    marks = other.locator("#map .mark-vehicle span")
    await expect(marks).to_have_text("Kék <i>autó</i>")
    await expect(other.locator('[data-f="landing-vehicles"]')).to_contain_text("of Kék")
    await page.locator("#tell").click()
    await expect(marks).to_have_count(0)
    await here.close()
    await there.close()


async def test_the_search_until_it_is_found(browser: Browser, station: LiveStation) -> None:
    context, page = await opened(browser, station, DESKTOP)
    await pace(page, "30×")
    await page.evaluate(
        "() => fetch('/api/rehearsal', {method: 'POST', body: '{\"speed\": 200}',"
        " headers: {'Content-Type': 'application/json'}})"
    )
    # It is never heard on the ground: the search begins while it should be down.
    await expect(page.locator("#search[open]")).to_have_count(1, timeout=200_000)
    body = page.locator("#search-body")
    await expect(body.locator('[data-f="mgrs"]')).to_contain_text("MGRS ")
    before = await search(page)
    assert sum(before["grid"]["chance"]) > 0
    assert before["place"]["mgrs"] in await body.locator('[data-f="mgrs"]').inner_text()
    await expect(body.locator('[data-f="near"]')).to_contain_text("power line <b>L1</b>")

    await page.locator("#to-landing").click()
    await body.locator("summary", has_text="I was somewhere").click()
    await body.get_by_role("button", name="Tap on the map").click()
    await page.locator("#map").click(position={"x": 150, "y": 250})
    await expect(body.locator('[data-f="looks"] li')).to_have_count(1)
    after = await search(page)
    assert after["looks"][0]["kind"] == "silent"
    assert after["grid"]["shares"] != before["grid"]["shares"]
    await page.screenshot(path=SCREENS / "desk-search.png", full_page=True)

    await body.get_by_role("button", name="A way").click()
    for x in (100, 160, 220):
        await page.locator("#map").click(position={"x": x, "y": 300})
    await body.get_by_role("button", name="Done").click()
    await expect(body.locator('[data-f="looks"] li')).to_have_count(2)
    await body.locator('[data-f="looks"]').get_by_role("button").first.click()
    await expect(body.locator('[data-f="looks"] li')).to_have_count(1)

    await body.locator("summary", has_text="It is found").click()
    await body.get_by_role("button", name="Where it was last heard").click()
    await body.locator('[data-f="note"]').fill("In a hedge <script>alert(1)</script>")
    await body.get_by_role("button", name="Note as found").click()
    await expect(body.locator('[data-f="place-word"]')).to_have_text("Found: whole")
    await expect(page.locator('[data-f="eta"]')).to_have_text("Found")
    told = await payload_of(station)
    assert told["found"]["note"] == "In a hedge <script>alert(1)</script>"
    assert COMPLAINTS[page] == []
    await context.close()


async def search(page: Page) -> dict[str, Any]:
    told: dict[str, Any] = await page.evaluate(
        "() => fetch('/api/search?payload=flight').then((answer) => answer.json())"
    )
    return told
