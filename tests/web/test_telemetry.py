"""What was measured, for the page: by name and tracker, thinned without losing an outlier."""

import os
from collections.abc import Mapping, Sequence
from pathlib import Path

import pytest
from playwright.async_api import async_playwright, expect

from groundstation.clock import RehearsalClock
from groundstation.flight.flights import Flights
from groundstation.flight.settings import FlightSettings, TrackerSettings
from groundstation.records import Fix, Frame, Report, Verdict
from groundstation.station.telemetry_desk import POINTS, Telemetry, by_name, thinned
from groundstation.store.batch import Batch
from groundstation.store.writer import Store
from groundstation.web.server import Desks
from tests.support.browser import CHROMIUM, FLAGS, PHONE, Station, opened

NOW = 1_778_922_000.0


class Measured:
    """A desk that knows a battery."""

    async def series(self, payload: str) -> Mapping[str, Sequence[tuple[float, float]]] | None:
        if payload == "none":
            return None
        return {"battery_v": ((NOW - 60.0, 4.1), (NOW, 3.71))}


def test_no_outlier_is_lost_in_a_drawing() -> None:
    points = [(float(t), 20.0) for t in range(10_000)]
    points[4_321] = (4_321.0, -40.0)
    drawn = list(thinned(points))
    assert len(drawn) <= POINTS + 2
    assert (4_321.0, -40.0) in drawn
    assert drawn == sorted(drawn)


def test_two_trackers_that_send_one_name_have_one_each() -> None:
    rows = [
        ("Q0HAB-11", 1.0, (("battery_v", 4.1), ("temperature_c", -3.0))),
        ("Q0HAB-12", 2.0, (("battery_v", 3.2),)),
    ]
    assert by_name(rows) == {
        "battery_v (Q0HAB-11)": ((1.0, 4.1),),
        "battery_v (Q0HAB-12)": ((2.0, 3.2),),
        "temperature_c": ((1.0, -3.0),),
    }


async def test_what_was_kept_of_this_flight_is_told(tmp_path: Path) -> None:
    """A fix of the day before is of another day."""
    path = tmp_path / "station.db"
    async with Store.open(path) as store:
        for number, (at, volts) in enumerate(((NOW - 90_000.0, 3.0), (NOW - 60.0, 4.1)), 1):
            frame = Frame(source="line", received_utc=at, data=b"x")
            report = Report(tracker="Q0HAB-11", latitude_deg=47.1, longitude_deg=20.3)
            fix = Fix(
                payload="kanalas-1", tracker="Q0HAB-11", source="line", time_utc=at,
                received_utc=at, latitude_deg=47.1, longitude_deg=20.3, altitude_m=900.0,
                telemetry=(("battery_v", volts),),
            )  # fmt: skip
            await store.commit(
                Batch(
                    frames=((10 * number, frame),),
                    reports=((10 * number + 1, 10 * number, report),),
                    verdicts=(Verdict(report_id=10 * number + 1, fix=fix),),
                )
            )
    settings = FlightSettings(payload="kanalas-1", trackers=(TrackerSettings(id="Q0HAB-11"),))
    desk = Telemetry(Flights((settings,)), path, RehearsalClock(NOW))
    assert await desk.series("kanalas-1") == {"battery_v": ((NOW - 60.0, 4.1),)}
    assert await desk.series("another") is None


@pytest.mark.live
@pytest.mark.skipif(
    not CHROMIUM.exists() and "CI" not in os.environ, reason=f"there is no {CHROMIUM}"
)
async def test_the_page_draws_it_when_somebody_looks() -> None:
    station = Station(desks=Desks(telemetry=Measured()))
    await station.start()
    try:
        async with async_playwright() as playwright:
            browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
            async with opened(browser, station, PHONE) as watched:
                assert not any("/api/telemetry" in one for one in watched.asked)
                sent = watched.page.locator('[data-f="sent"]').first
                await sent.locator("summary").click()
                caption = sent.locator("figcaption")
                await expect(caption).to_contain_text("battery: 3.71\u00a0V at ")
                assert await sent.locator("path.flown").count() == 1
                assert await watched.fits()
            await browser.close()
    finally:
        await station.stop()
