"""What a person saw is told on the page in two touches, stands there and on the map, and is taken
back. In a real browser, against a real server."""

import os
from collections.abc import AsyncIterator
from dataclasses import replace

import numpy as np
import pytest
from playwright.async_api import async_playwright, expect
from scipy.spatial.transform import Rotation

from groundstation.flight.sighting_kinds import SightingKind, sighting_of
from groundstation.web.payload_snapshot import IfLaunchedSnapshot
from groundstation.web.server import Desks
from groundstation.web.sighting_records import SightingTold
from tests.support.browser import CHROMIUM, FLAGS, PHONE, Station
from tests.support.web_scenario import FALLING, NOTHING_HEARD, NOW_UTC, STATION, landing

pytestmark = [
    pytest.mark.live,
    pytest.mark.slow,
    pytest.mark.skipif(
        not CHROMIUM.exists() and "CI" not in os.environ, reason=f"there is no {CHROMIUM}"
    ),
]


class Desk:
    """Keeps what is told, as the station does, and shows it."""

    def __init__(self, station: Station) -> None:
        self.kept: list[SightingTold] = []
        self._station = station

    async def tell(
        self,
        payload: str,
        kind: SightingKind,
        facts: dict[str, float | None],
        *,
        at_utc: float | None,
        who: str,
        note: str,
    ) -> SightingTold | None:
        assert payload == "kanalas-1"
        made = sighting_of(
            kind, facts, at_utc=NOW_UTC if at_utc is None else at_utc, told_utc=NOW_UTC,
            number=len(self.kept) + 1, who=who, note=note,
        )  # fmt: skip
        self.kept.append(SightingTold.of(made))
        self._show()
        return self.kept[-1]

    async def take_back(self, number: int, who: str) -> bool:
        assert who == ""
        self.kept = [one for one in self.kept if one.number != number]
        self._show()
        return True

    def _show(self) -> None:
        payload = replace(FALLING, sightings=tuple(self.kept))
        self._station.now = replace(STATION, payloads=(payload,))


@pytest.fixture
async def station() -> AsyncIterator[Station]:
    station = Station(now=replace(STATION, payloads=(FALLING,)))
    desk = Desk(station)
    station.desks = Desks(sightings=desk)
    await station.start()
    yield station
    await station.stop()


async def test_two_touches_tell_it_and_one_takes_it_back(station: Station) -> None:
    desk = station.desks.sightings
    assert isinstance(desk, Desk)
    complaints: list[str] = []
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        context = await browser.new_context(
            viewport={"width": PHONE[0], "height": PHONE[1]},
            geolocation={"latitude": 47.2, "longitude": 20.7},
            permissions=["geolocation", "accelerometer", "gyroscope", "magnetometer"],
        )
        page = await context.new_page()
        page.on("console", lambda message: complaints.append(message.text))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        await page.goto(station.address)
        await page.wait_for_selector("body.live")

        await page.click('[data-kind="burst"]')
        await page.click("#sighting-tell")
        await expect(page.locator("#sighting-rows li")).to_contain_text("burst seen or heard")
        [burst] = desk.kept
        assert (burst.kind, burst.at_utc) == (SightingKind.BURST, NOW_UTC)

        await page.click('[data-kind="launched"]')
        # 11:30 in Budapest, where the station is.
        await page.fill("#sighting-at", "10:05")
        await page.click("#sighting-tell")
        await expect(page.locator("#sighting-rows li")).to_have_count(2)
        assert desk.kept[-1].at_utc == NOW_UTC - 85 * 60

        await page.click('[data-kind="seen"]')
        await page.click("#sighting-tell")
        await expect(page.locator("#sighting-says")).to_contain_text("Give the bearing")
        # Held as for a photo: upright, turned to the east, its back tilted up by 20 degrees.
        await page.evaluate(
            "dispatchEvent(new DeviceOrientationEvent('deviceorientationabsolute',"
            " {alpha: 270, beta: 110, gamma: 0, absolute: true}))"
        )
        await expect(page.locator("#sighting-bearing")).to_have_value("90")
        await page.click("#sighting-tell")
        await expect(page.locator("#sighting-rows")).to_contain_text("towards 90°, 20° up")
        seen = desk.kept[-1]
        assert (seen.latitude_deg, seen.longitude_deg) == (47.2, 20.7)
        await expect(page.locator(".mark-seen")).to_contain_text("seen from here")
        assert await page.evaluate("document.documentElement.scrollWidth") <= PHONE[0]

        await page.locator("#sighting-rows button").last.click()
        await expect(page.locator("#sighting-rows li")).to_have_count(2)
        await expect(page.locator(".mark-seen")).to_have_count(0)

        angles = np.random.default_rng(3).uniform((0, -180, -90), (360, 180, 90), (40, 3))
        told = await page.evaluate(
            "async (all) => { const { pointed } = await import('/static/sighting.js');"
            " return all.map((one) => pointed(...one)); }",
            angles.tolist(),
        )
        # On the morning: where it would land, and nothing to drive to yet.
        would = IfLaunchedSnapshot(launch_utc=NOW_UTC + 1_800.0, landing=landing())
        station.now = replace(
            STATION, payloads=(replace(NOTHING_HEARD, if_launched=would, sightings=()),)
        )
        word = page.locator('#landings [data-f="landing-word"]')
        await expect(word).to_have_text("If launched at 12:00")
        await expect(page.locator("#landings")).to_contain_text("Nothing is flown yet")
        await expect(page.locator("#landings .go")).to_be_hidden()
        await expect(page.locator(".mark-planned")).to_have_text("if launched 12:00")
        await browser.close()
    # W3C Device Orientation: intrinsic turns about z, x and y; the back of the phone is -z.
    back = Rotation.from_euler("ZXY", angles, degrees=True).apply((0.0, 0.0, -1.0))
    bearing = np.degrees(np.arctan2(back[:, 0], back[:, 1])) % 360.0
    assert np.array(told)[:, 0] == pytest.approx(bearing, abs=1e-6)
    assert np.array(told)[:, 1] == pytest.approx(np.degrees(np.arcsin(back[:, 2])), abs=1e-6)
    assert complaints == []
