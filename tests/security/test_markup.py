"""What a tracker says of itself may look like markup. It stays text on the page and in the
report: shown as it was sent, and run by nobody."""

import asyncio
import html
import os
import subprocess
import sys
from pathlib import Path

import pytest
from playwright.async_api import async_playwright, expect

from tests.support.browser import CHROMIUM, FLAGS
from tests.support.live_station import LiveStation

MARKUP = "<img src=x onerror=document.title=1><script>2</script>"
BEGIN_UTC = 1_778_920_200.0
CONFIGURATION = """
[[payload]]
name = '{markup}'
[[payload.tracker]]
id = '{markup}'
[[source]]
name = '<b>hook</b>'
kind = "recording"
path = "{path}"
[[target]]
kind = "terminal"
"""


def flown(path: Path) -> None:
    """A short flight to 4 km by a tracker with such a name, an invented one."""
    rows = ["time,lat,lon,alt_m,tracker"]
    for n in range(120):
        up, down = 85.0 + 50.0 * max(0, n - 10), 4_085.0 - 100.0 * (n - 90)
        height = max(85.0, min(up, down))
        lon = 20.3 + 0.001 * n
        rows.append(f"{BEGIN_UTC + 10.0 * n:.0f},47.1,{lon:.4f},{height:.0f},{MARKUP}")
    path.write_text("\n".join(rows) + "\n")


@pytest.mark.live
@pytest.mark.slow
@pytest.mark.skipif(
    not CHROMIUM.exists() and "CI" not in os.environ, reason=f"there is no {CHROMIUM}"
)
async def test_markup_stays_text_on_the_page_and_in_the_report(tmp_path: Path) -> None:
    recording = tmp_path / "flight.csv"
    flown(recording)
    text = CONFIGURATION.format(markup=MARKUP, path=recording)
    station = LiveStation(tmp_path, text, 60.0)
    await station.start(BEGIN_UTC - 30.0)
    try:
        async with async_playwright() as playwright:
            browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
            page = await browser.new_page()
            await page.goto(station.address)
            await page.wait_for_selector("body.live")
            burst = page.locator('#messages [data-f="title"]', has_text="burst")
            await expect(burst.first).to_contain_text("<img src=x", timeout=200_000)
            assert await page.locator('#guides [data-f="payload"]').inner_text() == MARKUP
            assert MARKUP in await page.locator('[data-f="last-by"]').text_content()  # type: ignore[operator]
            assert "<b>hook</b>" in await page.locator("#sources").inner_text()
            assert MARKUP in "".join(await page.locator("#map .mark span").all_text_contents())
            assert await page.locator("img").count() == 0
            assert await page.locator("script").count() == 2
            assert await page.title() == "base"
            await browser.close()
    finally:
        await station.kill()
    report = tmp_path / "report.html"
    done = await asyncio.to_thread(
        subprocess.run,
        [
            sys.executable, "-m", "groundstation", "debrief", str(station.database),
            "--out", str(report),
        ],
        check=False, capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    written = report.read_text()
    assert MARKUP in html.unescape(written)
    assert "<img" not in written
    assert "<script" not in written
    assert "<b>hook" not in written
