"""The page in a real browser: right values, nothing from the radio becomes markup, old is old."""

import asyncio
import os
import re
from collections.abc import AsyncIterator
from dataclasses import replace

import pytest
import pytest_asyncio
from playwright.async_api import Browser, async_playwright, expect

from groundstation.records import AlertKind, Phase
from groundstation.web.payload_snapshot import HeightAlone
from groundstation.web.snapshot import (
    DisplayUnits,
    MessageSnapshot,
    SourceSnapshot,
    SourceState,
    TargetSnapshot,
)
from groundstation.web.state_api import vehicle
from tests.support.browser import CHROMIUM, DESKTOP, FLAGS, PHONE, Station, opened
from tests.support.web_scenario import (
    FALLING,
    NOTHING_HEARD,
    NOW_UTC,
    STATION,
    fix,
    in_phase,
    landing,
    last_fix,
)

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


@pytest_asyncio.fixture(loop_scope="module")
async def station() -> AsyncIterator[Station]:
    station = Station()
    await station.start()
    yield station
    await station.stop()


@pytest.mark.parametrize("size", [PHONE, DESKTOP])
@pytest.mark.parametrize("scheme", ["light", "dark"])
async def test_one_glance_answers(
    browser: Browser, station: Station, size: tuple[int, int], scheme: str
) -> None:
    async with opened(browser, station, size, scheme) as seen:
        assert await seen.told("payload") == "kanalas-1"
        assert await seen.told("phase") == "Descending"
        await seen.shows("heard", r"1[4-6] s ago$")
        assert await seen.told("height") + await seen.told("height-unit") == "12,346m"
        assert await seen.told("rate-word") == "Descending"
        assert await seen.told("landing-plan") == "7.3 km SSE of the plan (147°)"
        assert await seen.told("rate-sign") == "▼"
        assert await seen.told("rate") + await seen.told("rate-unit") == "11.4m/s"
        assert await seen.told("eta") == "in 18 min"
        # Local to the station's configuration, not to the browser (Auckland).
        assert await seen.told("eta-range") == "11:48 (90 %: 11:45–11:52)"
        assert await seen.told("sure-50") == "1.2 km"
        assert await seen.told("sure-90") == "2.9 km"
        assert await seen.told("landing-point") == "47.25432, 20.81235"
        assert await seen.told("landing-base") == "42.5 km ENE of base (66°)"
        assert await seen.told("last-point") == "47.21346, 20.65432"
        assert await seen.told("last-base") == "29.7 km ENE of base (65°)"
        assert "battery 3.71 V" in await seen.told("last-by")
        assert "temperature -30 °C" in await seen.told("last-by")
        assert await seen.told("story") == "Launched 09:28, flying 2 h 02 min. " + (
            "Burst 11:04 at 30,412 m."
        )
        body = " ".join((await seen.page.locator("body").inner_text()).split())
        for text in (
            "Source club is not connected: 127.0.0.1:14580 refuses the connection. It is tried",
            "Head for the point 5.4 km NE of Kisújszállás (50 % within 1.2 km), down about 11:48.",
            "kanalas-1: landing moved 2.4 km",
            "not connected for 1 min 3",
            "last: 127.0.0.1:14580 refuses the connection.",
            "12,260 m above ground",
            "1 waiting, the oldest for 2 min 2",
            "810 heard before, 31 without a position, 1 too far to be true",
            "this page is for the passenger",
        ):
            assert text in body
        marks = await seen.page.locator("#map .mark span").all_text_contents()
        assert sorted(marks) == [
            "base", "burst 30,412\xa0m", "kanalas-1 12,346\xa0m", "landing", "launch", "planned",
        ]  # fmt: skip
        link = seen.page.locator('.landing [data-f="landing-geo"]')
        assert await link.get_attribute("href") == "geo:47.254321,20.812345?q=47.254321,20.812345"
        assert not await seen.page.locator("#rehearsal").is_visible()
        assert await seen.fits()
        assert seen.complaints == []
        assert all(url.startswith(station.address) for url in seen.asked)


async def test_the_answers_stand_on_the_first_screen_of_a_phone(
    browser: Browser, station: Station
) -> None:
    async with opened(browser, station) as seen:
        for name in ("phase", "todo", "far", "eta", "eta-range", "sure-90", "landing-point"):
            box = await seen.page.locator(f'main [data-f="{name}"]').bounding_box()
            assert box is not None
            assert box["y"] + box["height"] <= PHONE[1], name


async def test_touch_targets_are_large(browser: Browser, station: Station) -> None:
    """WCAG 2.2 success criterion 2.5.5: at least 44 by 44 CSS pixels."""
    async with opened(browser, station) as seen:
        for summary in await seen.page.locator(
            "main > details > summary, aside > details > summary, .landing summary"
        ).all():
            await summary.click()
        everything = "a[href]:visible, button:visible, input:visible, select:visible"
        targets = await seen.page.locator(everything).all()
        assert len(targets) > 12
        for target in targets:
            box = await target.bounding_box()
            assert box is not None
            assert min(box["width"], box["height"]) >= 44


async def test_vehicles_stand_with_the_landing(browser: Browser, station: Station) -> None:
    car = fix(payload="car", latitude_deg=47.2, longitude_deg=20.5, speed_ms=20.0)
    station.now = replace(STATION, vehicles=(vehicle(car, STATION.payloads),))
    try:
        async with opened(browser, station) as seen:
            assert re.fullmatch(
                r"[0-9.]+ km [NESW]+ of car \([0-9]+°\), .+ in a straight line at its speed",
                await seen.told("landing-vehicles"),
            )
            assert await seen.fits()
            assert seen.complaints == []
    finally:
        station.now = STATION


async def test_an_alert_is_marked_as_seen(browser: Browser, station: Station) -> None:
    async with opened(browser, station) as seen:
        button = seen.page.locator('#messages [data-f="seen"]').first
        assert await button.inner_text() == "Mark as seen"
        await button.click()
        await expect(seen.page.locator('#messages [data-f="seen"]').first).to_have_text("✓ Seen")
        assert station.seen == [STATION.messages[0].key]
        # And so it stays with the next answer.
        await asyncio.sleep(1.5)
        assert await button.inner_text() == "✓ Seen"
        assert await button.is_disabled()
        assert seen.complaints == []


async def test_nothing_from_outside_becomes_markup(browser: Browser, station: Station) -> None:
    attack = '<img src=x onerror="document.title=1"><script>document.title=2</script>'
    station.now = replace(
        STATION,
        station=f"S{attack}",
        payloads=(
            replace(
                FALLING,
                payload=f"P{attack}",
                last=last_fix(tracker=f"T{attack}", source=attack, telemetry=((attack, 1.0),)),
                landing=landing(basis=f"B{attack}"),
            ),
        ),
        sources=(
            SourceSnapshot(
                name=f"N{attack}",
                kind=attack,
                state=SourceState.WAITING,
                since_utc=NOW_UTC,
                last_error=f"E{attack}",
            ),
        ),
        targets=(TargetSnapshot(name=f"O{attack}", last_error=attack),),
        messages=(
            MessageSnapshot(
                time_utc=NOW_UTC,
                kind=AlertKind.BURST,
                title=f"M{attack}",
                body=f"C{attack}",
                key="k",
            ),
        ),
        problems=(f"X{attack}",),
    )
    async with opened(browser, station) as seen:
        await seen.page.locator(".landing summary").click()
        body = await seen.page.locator("body").inner_text()
        for mark in "SPTBNEOMCX":
            assert f"{mark}{attack}" in body
        assert await seen.page.title() == f"S{attack}"
        assert await seen.page.locator("img").count() == 0
        assert await seen.page.locator("script").count() == 2
        assert await seen.fits()
        assert seen.complaints == []


async def test_a_silent_station_makes_everything_old_until_it_answers(
    browser: Browser, station: Station
) -> None:
    async with opened(browser, station) as seen:
        contact = seen.page.locator("#contact")
        await expect(contact).to_have_text(re.compile("Live, updated"))
        await station.stop()
        await expect(contact).to_have_text(re.compile(r"No answer for \d+\ss: all below is old"))
        assert await seen.page.locator(".asof").first.text_content() == "OLD 11:30:00"
        heard = int((await seen.told("heard")).split()[0])
        assert heard >= 14 + 6
        assert await seen.told("landing-point") == "47.25432, 20.81235"
        assert await seen.fits()
        station.now = replace(STATION, now_utc=NOW_UTC + 60.0)
        await station.start()
        await seen.page.wait_for_selector("body.live")
        assert await seen.page.locator(".asof").first.text_content() == "as of 11:31:00"
        await seen.shows("heard", "1 min 1[4-6] s ago")
        # The browser itself notes each refused connection; the page adds nothing to that.
        assert all("ERR_" in text for text in seen.complaints)


async def test_sleep_is_not_taken_for_youth(browser: Browser, station: Station) -> None:
    """The steady clock of some phones stops while they sleep; the wall clock tells."""
    async with opened(browser, station) as seen:
        await station.stop()
        await seen.page.evaluate(
            "() => { const now = Date.now.bind(Date); Date.now = () => now() + 3600e3; }"
        )
        await expect(seen.page.locator("#contact")).to_have_text(re.compile(r"No answer for 1\sh"))
        assert (await seen.told("heard")).startswith("1 h 00 min")


async def test_a_rehearsal_says_so_and_counts_in_its_own_time(
    browser: Browser, station: Station
) -> None:
    station.now = replace(
        STATION, rehearsal=True, speed=200.0, units=DisplayUnits.FEET_MILES, problems=()
    )
    async with opened(browser, station) as seen:
        banner = seen.page.locator("#rehearsal")
        assert "REHEARSAL recorded flight, 200 times real time" in await banner.inner_text()
        assert await seen.told("height") + await seen.told("height-unit") == "40,504ft"
        assert await seen.told("rate") + await seen.told("rate-unit") == "2,244ft/min"
        assert await seen.told("landing-base") == "26.4 mi ENE of base (66°)"
        # The station tells the same moment again and again, so the age passes a minute only if the
        # page counts 200 seconds for each real one.
        await expect(seen.page.locator('[data-f="heard"]')).to_have_text(re.compile(r"min"))
        assert await seen.fits()
        assert seen.complaints == []


async def test_nothing_jumps_when_the_first_answer_comes(
    browser: Browser, station: Station
) -> None:
    """Layout shift as the browser measures it; below 0.1 counts as good (web.dev, CLS)."""
    context = await browser.new_context(viewport={"width": PHONE[0], "height": PHONE[1]})
    page = await context.new_page()
    await page.add_init_script(
        "window.shift = 0; new PerformanceObserver((list) => { for (const e of list.getEntries())"
        " window.shift += e.value; }).observe({type: 'layout-shift', buffered: true});"
    )
    await page.goto(station.address)
    await page.wait_for_selector("body.live")
    station.now = replace(station.now, now_utc=NOW_UTC + 60.0)
    await expect(page.locator('main [data-f="heard"]')).to_have_text(re.compile(r"min"))
    shift = await page.evaluate("() => window.shift")
    assert shift < 0.1
    await context.close()


async def test_a_height_without_a_place_is_shown_as_what_it_is(
    browser: Browser, station: Station
) -> None:
    height = HeightAlone(
        time_utc=NOW_UTC - 12.0, received_utc=NOW_UTC - 11.0, altitude_m=15_210.0, agl_m=15_120.0,
        by_pressure=True, tracker="Q0HAB-11",
    )  # fmt: skip
    falls = replace(FALLING, height=height, last=last_fix(time_utc=NOW_UTC - 1_500.0), rate_ms=-9.5)
    station.now = replace(STATION, payloads=(falls,))
    async with opened(browser, station) as seen:
        await seen.shows("heard", "1[12] s ago$")
        assert await seen.told("heard-note") == (
            "Only its height is heard, by the pressure of the air; its place is 25 min old."
        )
        assert await seen.told("height") == "15,210"
        assert await seen.told("agl") == "15,120 m above ground"
        assert await seen.told("rate-word") == "Descending"
        assert await seen.fits()
        assert seen.complaints == []


async def test_every_phase_has_words_and_a_shape(browser: Browser, station: Station) -> None:
    station.now = replace(
        STATION,
        payloads=(
            NOTHING_HEARD,
            replace(in_phase(Phase.ASCENT), rate_ms=5.25, burst=None),
            replace(in_phase(Phase.FLOAT), rate_ms=0.1, burst=None, landing=None),
            replace(in_phase(Phase.LANDED), since_utc=NOW_UTC - 700.0),
            replace(FALLING, last=last_fix(altitude_m=None, time_utc=NOW_UTC - 400.0)),
            replace(FALLING, landing=landing(eta_utc=NOW_UTC - 130.0)),
        ),
        base=None,
        sources=(),
        targets=(),
        messages=(),
        problems=(),
    )
    async with opened(browser, station) as seen:
        assert [await seen.told("phase", k) for k in range(4)] == [
            "Waiting",
            "Ascending",
            "Floating",
            "Landed",
        ]
        signs = {await seen.told("phase-sign", k) for k in range(4)}
        assert len(signs) == 4
        assert await seen.told("todo", 0) == (
            "Nothing heard yet: see that the tracker is on and its source connected."
        )
        for part in (".landing", ".facts", ".curves"):
            assert not await seen.page.locator(part).nth(0).is_visible()
        assert await seen.told("rate", 1) == "5.3"
        assert await seen.told("rate-sign", 1) == "▲"
        assert await seen.told("rate-word", 2) == "Level"
        assert await seen.told("eta", 3) == "down for 11 min"
        assert not await seen.page.locator('[data-f="height-part"]').nth(4).is_visible()
        await seen.shows("heard-note", r"The position itself is 6 min 4\d s old", 4)
        await seen.shows("eta", r"due 2 min 1\d s ago", 5)
        body = await seen.page.locator("body").inner_text()
        assert "The station is well." in body
        assert "No target is told" in body
        assert await seen.fits()
        assert seen.complaints == []
