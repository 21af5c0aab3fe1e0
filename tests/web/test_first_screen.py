"""What a person does with the page on the day, in a real browser; states by the real overview."""

import os
import re
from collections.abc import AsyncIterator
from dataclasses import replace
from typing import Any

import pytest
import pytest_asyncio
from geographiclib.geodesic import Geodesic
from playwright.async_api import Browser, async_playwright, expect

from groundstation.flight.state import FlightState, Hearing, Motion
from groundstation.flight.track import Track
from groundstation.records import Phase
from groundstation.units import Units
from tests.support.browser import CHROMIUM, DESKTOP, FLAGS, PHONE, Station, opened
from tests.support.web_scenario import (
    LANDING,
    MESSAGES,
    NOW_UTC,
    SETTINGS,
    STATE,
    STATION,
    fix,
    station,
)

pytestmark = [
    pytest.mark.live,
    pytest.mark.asyncio(loop_scope="module"),
    pytest.mark.skipif(
        not CHROMIUM.exists() and "CI" not in os.environ, reason=f"there is no {CHROMIUM}"
    ),
]

HERE = {"latitude": 47.05, "longitude": 20.55}


def moved(phase: Phase, **changes: Any) -> FlightState:
    return replace(STATE, motion=replace(STATE.motion, phase=phase, **changes))


UNHEARD = replace(STATE, motion=Motion(), landing=None)
AT = "5.4 km NE of Kisújszállás (50 % within 1.2 km)"
THERE = f"the point {AT}"


def due(ago_s: float) -> FlightState:
    late = replace(LANDING, eta_utc=NOW_UTC - 300, eta_90_utc=(NOW_UTC - 500, NOW_UTC - ago_s))
    return replace(STATE, landing=late)


DUE = due(60.0)
OVERDUE = due(400.0)
HEARD_DOWN = replace(STATE, said=replace(STATE.said, on_ground=True))
SILENT = replace(
    STATE,
    hearing=Hearing(silent_since=NOW_UTC - 400.0),
    motion=replace(STATE.motion, last=fix(time_utc=NOW_UTC - 400, received_utc=NOW_UTC - 400)),
)
LANDED = moved(Phase.LANDED, since_utc=NOW_UTC - 900.0)


@pytest_asyncio.fixture(scope="module", loop_scope="module")
async def browser() -> AsyncIterator[Browser]:
    async with async_playwright() as playwright:
        launched = await playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        yield launched
        await launched.close()


@pytest_asyncio.fixture(loop_scope="module")
async def page_of() -> AsyncIterator[Station]:
    shown = Station()
    await shown.start()
    yield shown
    await shown.stop()


@pytest.mark.parametrize(
    ("state", "badge", "todo"),
    [
        (UNHEARD, "Waiting", "Nothing heard yet: see that the tracker is on and its source"),
        (
            moved(Phase.ASCENT, burst=None),
            "Ascending",
            f"Plan for a landing {AT}: it has not burst yet.",
        ),
        (
            moved(Phase.FLOAT, burst=None),
            "Floating",
            f"Wait: it floats and may drift far; now it would land {AT}.",
        ),
        (STATE, "Descending", f"Head for {THERE}, down about 11:48."),
        (
            SILENT,
            "Descending, silent",
            f"Go on to {THERE}, down about 11:48; nothing heard since 11:23.",
        ),
        (
            DUE,
            "Should be down",
            f"Stop where it is safe and listen: it was due at 11:25, {AT}",
        ),
        (OVERDUE, "Should be down", f"Search from {THERE} outwards"),
        (
            HEARD_DOWN,
            "Landed",
            "Go to it, 4.6 km SSW of Kenderes: it was heard there on the ground.",
        ),
        (LANDED, "Landed", "Go to it, 4.6 km SSW of Kenderes: it was heard there on the ground."),
        (
            replace(LANDED, motion=replace(LANDED.motion, rest=fix(), away=2)),
            "Landed",
            "Go to where it was last heard, 4.6 km SSW of Kenderes: it moved after it landed.",
        ),
    ],
)
async def test_the_instruction_is_always_there_and_agrees_with_the_badge(
    browser: Browser, page_of: Station, state: FlightState, badge: str, todo: str
) -> None:
    page_of.now = station(state)
    async with opened(browser, page_of) as seen:
        assert await seen.told("phase") == badge
        assert (await seen.told("todo")).startswith(todo)
        box = await seen.page.locator("#guides").bounding_box()
        assert box is not None
        assert box["y"] + box["height"] < PHONE[1] / 3
        assert await seen.fits()


async def test_a_phones_first_screen_holds_instruction_landing_and_map(
    browser: Browser, page_of: Station
) -> None:
    async with opened(browser, page_of) as seen:
        at = {}
        for name in ("#now", "#landings", "#map", "#map-tools"):
            box = await seen.page.locator(name).bounding_box()
            assert box is not None
            at[name] = (box["y"], box["y"] + box["height"])
        assert at["#now"][1] <= at["#landings"][0] <= at["#landings"][1] <= at["#map"][0]
        # The map's own buttons stand on the screen, and over 200 pixels of it above them.
        assert at["#map-tools"][1] <= PHONE[1]
        assert at["#map-tools"][0] - at["#map"][0] > 200
        for button in await seen.page.locator("#map-tools button").all():
            box = await button.bounding_box()
            assert box is not None
            assert 0 <= box["x"] <= box["x"] + box["width"] <= PHONE[0]


async def test_on_a_desk_the_map_is_the_largest_thing(browser: Browser, page_of: Station) -> None:
    async with opened(browser, page_of, DESKTOP) as seen:
        boxes = {
            name: await seen.page.locator(name).bounding_box()
            for name in ("#map", "#now", "#landings", "#facts", "#alerts", "#curves", "aside")
        }
        sizes = {
            name: box["width"] * min(box["height"], DESKTOP[1])
            for name, box in boxes.items()
            if box is not None
        }
        assert max(sizes, key=lambda name: sizes[name]) == "#map", sizes
        assert sizes["#map"] > DESKTOP[0] * DESKTOP[1] / 2


@pytest.mark.parametrize("state", [LANDED, OVERDUE])
async def test_once_down_the_search_comes_first_and_alerts_fold(
    browser: Browser, page_of: Station, state: FlightState
) -> None:
    page_of.now = station(state)
    async with opened(browser, page_of) as seen:
        await expect(seen.page.locator("#search[open]")).to_have_count(1)
        await expect(seen.page.locator("#alerts[open]")).to_have_count(0)
        order = [await seen.page.locator(n).bounding_box() for n in ("#now", "#search", "#map")]
        tops = [box["y"] for box in order if box is not None]
        assert tops == sorted(tops)
        assert len(tops) == 3


async def test_one_touch_marks_all_as_seen(browser: Browser, page_of: Station) -> None:
    async with opened(browser, page_of) as seen:
        await seen.page.locator("#see-all").click()
        await expect(seen.page.locator("#see-all")).to_have_text("All are seen")
        assert sorted(page_of.seen) == sorted(one.key for one in STATION.messages)
        assert len(page_of.seen) == len(MESSAGES) == 2
        assert seen.complaints == []


async def test_rings_are_numbers_that_a_person_writes(browser: Browser, page_of: Station) -> None:
    async with opened(browser, page_of) as seen:
        labels = await seen.page.locator("#map .net-ring span").all_text_contents()
        assert labels
        every = await seen.page.evaluate(
            """async () => {
              const { ringsOf } = await import("/static/map.js");
              const found = [];
              for (let m = 100; m < 2e6; m *= 1.3) for (const feet of [false, true]) {
                found.push([m, feet, ringsOf(m, feet)]);
              }
              return found;
            }"""
        )
        for least, feet, rings in every:
            unit = r"(ft|mi)" if feet else r"(m|km)"
            assert 1 <= len(rings) <= 4
            for metres, said in rings:
                assert re.fullmatch(rf"(1|2|5)(,?0)*0* {unit}", said), said
                assert metres < least


async def test_imperial_is_imperial_everywhere(browser: Browser, page_of: Station) -> None:
    state = replace(STATE, landing=replace(LANDING, basis="winds of the ascent"))
    settings = replace(SETTINGS, station=replace(SETTINGS.station, units=Units.IMPERIAL))
    page_of.now = replace(station(state, settings=settings), messages=(), problems=())
    async with opened(browser, page_of) as seen:
        for summary in await seen.page.locator("main > details > summary").all():
            if not await summary.locator("xpath=..").get_attribute("open"):
                await summary.click()
        await seen.page.locator(".landing summary").click()
        await seen.page.locator("summary", has_text="I was somewhere").click()
        text = (await seen.page.locator("main").inner_text()).replace("\xa0", " ")
        drawn = await seen.page.locator("#map").inner_text()
        charts = " ".join(await seen.page.locator("#curves text").all_text_contents())
        for said in (text, drawn, charts):
            assert not re.search(r"\d\s?(m|km|m/s|km/h|°C)\b|Reach, m\b|m/s", said), said
        assert "26.4 mi ENE of base" in text
        assert "-22 °F" in text
        assert "Reach, ft" in text


async def test_from_me_is_the_first_distance_and_stays_after_opening_again(
    browser: Browser, page_of: Station
) -> None:
    context = await browser.new_context(
        viewport={"width": PHONE[0], "height": PHONE[1]},
        geolocation={"latitude": HERE["latitude"], "longitude": HERE["longitude"]},
        permissions=["geolocation"],
    )
    page = await context.new_page()
    await page.goto(page_of.address)
    await page.wait_for_selector("body.live")
    await page.locator("#locate").click()
    far = page.locator('[data-f="far"]').first
    await expect(far).to_contain_text("of you")
    told = re.match(r"([0-9.]+)\s?km (\w+) of you", (await far.inner_text()).replace("\xa0", " "))
    assert told is not None
    true = Geodesic.WGS84.Inverse(
        HERE["latitude"], HERE["longitude"], LANDING.latitude_deg, LANDING.longitude_deg
    )
    assert float(told[1]) == pytest.approx(true["s12"] / 1000.0, rel=0.006)
    assert told[2] == "NE"
    assert "of you" in await page.locator('[data-f="todo"]').first.inner_text()
    await page.reload()
    await expect(page.locator('[data-f="far"]').first).to_contain_text("of you")
    assert await page.locator("#crew-name").input_value() == ""
    await context.close()


async def test_drive_there_asks_once_and_starts_what_was_chosen(
    browser: Browser, page_of: Station
) -> None:
    async with opened(browser, page_of) as seen:
        page = seen.page
        await page.evaluate("() => { window.went = []; window.open = (to) => went.push(to); }")
        drive = page.locator('[data-do="drive"]').first
        await drive.click()
        dialog = page.locator("#drive")
        await expect(dialog).to_be_visible()
        assert "passenger" in await dialog.inner_text()
        names = await dialog.locator(".choices button").all_inner_texts()
        assert len(names) == len(set(names)) >= 4
        await dialog.get_by_role("button", name="OpenStreetMap").click()
        await expect(dialog).not_to_be_visible()
        await drive.click()
        went = await page.evaluate("() => window.went")
        place = "47.254321,20.812345"
        wanted = f"https://www.openstreetmap.org/directions?engine=fossgis_osrm_car&route=;{place}"
        assert went == [wanted, wanted]
        assert "OpenStreetMap" in await seen.told("drive-with")
        await page.locator('[data-do="drive-with"]').first.click()
        await dialog.get_by_role("button", name="Google").click()
        await drive.click()
        assert (await page.evaluate("() => window.went"))[-1] == (
            f"https://www.google.com/maps/dir/?api=1&destination={place}&travelmode=driving"
        )
        assert seen.complaints == []


async def test_alerts_do_not_move_under_a_finger(browser: Browser, page_of: Station) -> None:
    async with opened(browser, page_of) as seen:
        first = seen.page.locator('#messages [data-f="title"]').first
        before = await first.inner_text()
        newest = replace(STATION.messages[0], time_utc=NOW_UTC, title="a new one", key="new")
        # The page's steady clock stands, so that a slow machine is no slow finger.
        await seen.page.evaluate(
            "() => { const now = performance.now(); performance.now = () => now; }"
        )
        await seen.page.locator("#alerts").dispatch_event("pointerdown")
        page_of.now = replace(STATION, now_utc=NOW_UTC + 3.0, messages=(newest, *STATION.messages))
        await expect(seen.page.locator(".asof").first).to_have_text(re.compile(r"11:30:03"))
        assert await first.text_content() == before
        await seen.page.evaluate("() => { delete performance.now; }")
        await expect(first).to_have_text("a new one")


@pytest.mark.parametrize("size", [DESKTOP, (1440, 700)])
async def test_at_a_desk_the_bar_of_the_maps_buttons_is_whole_and_on_the_screen(
    browser: Browser, page_of: Station, size: tuple[int, int]
) -> None:
    """In a rehearsal too, whose own bar pushes the map down."""
    page_of.now = replace(STATION, rehearsal=True, speed=10.0)
    async with opened(browser, page_of, size) as seen:
        await expect(seen.page.locator("#layer-box")).to_be_visible()
        bar, chart = [await seen.page.locator(it).bounding_box() for it in (".tools", "#map")]
        assert bar is not None
        assert chart is not None
        assert bar["width"] == pytest.approx(chart["width"], abs=1.0)
        assert bar["y"] + bar["height"] <= size[1]
        for name in ("#map-tools", "#layer-box"):
            box = await seen.page.locator(name).bounding_box()
            assert box is not None
            assert bar["y"] <= box["y"]
            assert box["y"] + box["height"] <= bar["y"] + bar["height"] + 0.5


async def test_a_tracker_that_tells_no_heights_has_no_drawing_of_them(
    browser: Browser, page_of: Station
) -> None:
    flat = tuple(one._replace(altitude_m=None) for one in STATE.motion.track.settled)
    silent_of_height = moved(
        Phase.DESCENT, last=fix(altitude_m=None), track=Track(flat, None), burst=None
    )
    page_of.now = station(silent_of_height)
    async with opened(browser, page_of) as seen:
        await expect(seen.page.locator("#curves .card")).to_be_visible()
        await expect(seen.page.locator("#curves .climb")).to_be_hidden()
        await expect(seen.page.locator('#curves [data-f="story"]')).to_contain_text("Launched")
        page_of.now = STATION
        await expect(seen.page.locator("#curves .climb")).to_be_visible()
