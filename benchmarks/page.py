"""The page in a real browser, measured: ``python -m benchmarks.page ../shared/flights``."""

import argparse
import asyncio
import os
import sys
import tempfile
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path
from typing import Final

import aiohttp
import numpy as np
from playwright.async_api import Browser, Page, async_playwright

from benchmarks.figure import Figure
from groundstation.flight.track import Point, Track
from groundstation.recordings.read_any import read_recording
from groundstation.web import stream
from tests.support.browser import CHROMIUM, FLAGS, Station
from tests.support.live_station import LiveStation
from tests.support.web_scenario import FALLING, NOW_UTC, STATION, last_fix

FIXES: Final = 10_000
PAGES: Final = 50
WATCHED_S: Final = 30.0
HOURS: Final = 8
PHONE: Final = {"width": 360, "height": 740}
SLOWER: Final = 4
SLOW_BIT_S: Final = 1_600_000
SLOW_LATENCY_MS: Final = 150
"""A middling phone on a poor network: what audits of pages take (from memory)."""
CONFIGURATION = """
[[payload]]
name = "flight"
[[payload.tracker]]
id = "Q0ABY-13"
[[source]]
name = "recorded"
kind = "recording"
path = "{path}"
"""

USEFUL = """() => new Promise((done) => {
  const look = () => {
    const drawn = document.querySelector('.climb .flown') && document.querySelector('.mark-now');
    if (drawn && document.body.classList.contains('live')) {
      requestAnimationFrame(() => done(performance.now()));
    } else setTimeout(look, 5);
  };
  look();
})"""
WORST_INPUT = """async () => {
  const button = document.getElementById('whole');
  let worst = 0;
  for (let n = 0; n < 40; n += 1) {
    const asked = performance.now();
    await new Promise((done) => {
      button.addEventListener('click', done, { once: true });
      setTimeout(() => button.click(), 0);
    });
    await new Promise(requestAnimationFrame);
    worst = Math.max(worst, performance.now() - asked);
    await new Promise((done) => setTimeout(done, 50));
  }
  return worst;
}"""


def long_track() -> tuple[Point, ...]:
    """10,000 fixes, one a second, as the flight keeps them."""
    track = Track()
    for n in range(FIXES):
        height = 100.0 + (5.0 * n if n < 6_000 else max(30_100.0 - 8.0 * (n - 6_000), 100.0))
        point = Point(
            NOW_UTC - FIXES + n, 47.1 + 2e-5 * n, 20.3 + 5e-5 * n + 1e-4 * np.sin(n / 99), height
        )
        track = track.extended(point)
    return track.settled


@asynccontextmanager
async def shown(browser: Browser, station: Station, *, slow: bool = False) -> AsyncIterator[Page]:
    context = await browser.new_context(viewport=PHONE)  # type: ignore[arg-type]
    page = await context.new_page()
    if slow:
        session = await context.new_cdp_session(page)
        await session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
        await session.send("Network.enable")
        await session.send(
            "Network.emulateNetworkConditions",
            {
                "offline": False,
                "latency": SLOW_LATENCY_MS,
                "downloadThroughput": SLOW_BIT_S / 8,
                "uploadThroughput": SLOW_BIT_S / 16,
            },
        )
    await page.goto(station.address, wait_until="commit")
    yield page
    await context.close()


async def first_paint(browser: Browser, station: Station, *, slow: bool = False) -> float:
    """The median of five, seconds from the navigation to what is useful."""
    took = []
    for _ in range(5):
        async with shown(browser, station, slow=slow) as page:
            took.append(float(await page.evaluate(USEFUL)) / 1000.0)
    return float(np.median(took))


async def hurried(browser: Browser, station: Station) -> tuple[float, float, float]:
    """At 60 updates a second the worst input in ms; over 8 hours of updates MB, first and last."""
    count = 0

    async def change() -> None:
        nonlocal count
        while True:
            await asyncio.sleep(stream.EVERY_S)
            count += 1
            last = last_fix(altitude_m=12_345.0 - count % 9_000, time_utc=NOW_UTC + count)
            payload = replace(station.now.payloads[0], last=last)
            station.now = replace(station.now, now_utc=NOW_UTC + count, payloads=(payload,))

    async with shown(browser, station) as page:
        await page.wait_for_selector("body.live")
        stream.EVERY_S = 1.0 / 60.0  # type: ignore[misc]
        changing = asyncio.create_task(change())
        await asyncio.sleep(3.0)
        worst = float(await page.evaluate(WORST_INPUT))
        stream.EVERY_S = 1.0 / 250.0  # type: ignore[misc]
        session = await page.context.new_cdp_session(page)

        async def heap_mb() -> float:
            await session.send("HeapProfiler.collectGarbage")
            return float((await session.send("Runtime.getHeapUsage"))["usedSize"]) / 1e6

        await asyncio.sleep(10.0)
        first, begun = await heap_mb(), count
        while count - begun < HOURS * 3600:  # noqa: ASYNC110
            await asyncio.sleep(1.0)
        last = await heap_mb()
        changing.cancel()
        stream.EVERY_S = 1.0  # type: ignore[misc]
        return worst, first, last


def cpu_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


async def many_pages(flights: Path) -> tuple[float, float, float]:
    """Of one core in %: the station alone, beside 50 pages; and the largest update in bytes."""
    path = flights / "packets" / "f06.txt"
    with tempfile.TemporaryDirectory() as name:
        station = LiveStation(Path(name), CONFIGURATION.format(path=path.absolute()), 1.0)
        # The fall, when there is most to tell.
        await station.start(read_recording(path).frames[0].received_utc + 5_400.0)
        await asyncio.sleep(10.0)
        assert station.pid is not None
        alone = await cost(station.pid)
        largest = 0

        async def listen() -> None:
            nonlocal largest
            timeout = aiohttp.ClientTimeout(total=None)
            async with (
                aiohttp.ClientSession(timeout=timeout) as client,
                client.get(f"{station.address}/api/stream") as answer,
            ):
                begun = time.monotonic()
                async for data in answer.content.iter_any():
                    if time.monotonic() - begun > 3.0:
                        largest = max(largest, len(data))

        pages = [asyncio.create_task(listen()) for _ in range(PAGES)]
        await asyncio.sleep(5.0)
        beside = await cost(station.pid)
        for page in pages:
            page.cancel()
        await asyncio.gather(*pages, return_exceptions=True)
        await station.kill()
        return alone, beside, largest


async def cost(pid: int) -> float:
    before, begun = cpu_s(pid), time.monotonic()
    await asyncio.sleep(WATCHED_S)
    return 100.0 * (cpu_s(pid) - before) / (time.monotonic() - begun)


async def measured(flights: Path) -> list[Figure]:
    station = Station(now=replace(STATION, payloads=(replace(FALLING, track=long_track()),)))
    await station.start()
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        paint_s = await first_paint(browser, station)
        slow_s = await first_paint(browser, station, slow=True)
        worst_ms, first_mb, last_mb = await hurried(browser, station)
        await browser.close()
    await station.stop()
    alone, beside, largest = await many_pages(flights)
    grown_mb = last_mb - first_mb
    return [
        told("first useful picture, 10,000 fixes", f"{paint_s:.2f} s", "1 s", paint_s <= 1.0),
        told("the same on a slow phone", f"{slow_s:.2f} s", "3 s", slow_s <= 3.0),
        told("worst input at 60 updates/s", f"{worst_ms:.0f} ms", "100 ms", worst_ms <= 100.0),
        told(
            f"page's memory over {HOURS} h",
            f"{first_mb:.1f} to {last_mb:.1f} MB",
            "2 MB more",
            grown_mb <= 2.0,
        ),
        told(
            f"{PAGES} pages, of a core",
            f"{beside - alone:.1f} % (alone {alone:.1f} %)",
            "10 %",
            beside - alone <= 10.0,
        ),
        told("largest update", f"{largest:,.0f} bytes", "2,000 bytes", largest < 2_000),
    ]


def told(name: str, measured: str, goal: str, good: bool) -> Figure:
    return Figure(name=name, measured=measured, goal=goal, good=good)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("flights", type=Path, help="the folder with recorded flights")
    figures = asyncio.run(measured(parser.parse_args().flights))
    for one in figures:
        print(
            f"{'ok  ' if one.good else 'MISS'}  {one.name:36} {one.measured:28} (goal {one.goal})"
        )
    sys.exit(0 if all(one.good for one in figures) else 1)


if __name__ == "__main__":
    main()
