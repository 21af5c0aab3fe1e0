"""The page for friends as a browser shows it, from a plain server of files."""

import json
import os
from dataclasses import replace
from pathlib import Path

import pytest
from aiohttp import web
from playwright.async_api import async_playwright, expect

from groundstation.language.catalogue import speaking
from groundstation.publish.friends import PAGE, STATE, page_html
from groundstation.records import Phase
from tests.publish.test_friends import aim, state, telling
from tests.support.browser import CHROMIUM, FLAGS, PHONE
from tests.support.store_samples import START_UTC

pytestmark = [
    pytest.mark.live,
    pytest.mark.skipif(
        not CHROMIUM.exists() and "CI" not in os.environ, reason=f"there is no {CHROMIUM}"
    ),
]


async def test_friends_see_where_it_flies_in_their_language_and_then_no_more(
    tmp_path: Path,
) -> None:
    friends = telling(delay_s=0.0)
    falling = state(Phase.DESCENT, 25, 8_123.0, replace(aim(), latitude_deg=47.33))
    over = state(Phase.LANDED, 30, 80.0, aim())
    (tmp_path / STATE).write_text(json.dumps(friends.look(START_UTC + 1_500.0, [falling])))
    with speaking("hu"):
        (tmp_path / PAGE).write_text(page_html("Kanalas repül"))
    app = web.Application()
    app.router.add_static("/", tmp_path)
    runner = web.AppRunner(app, access_log=None)
    await runner.setup()
    await web.TCPSite(runner, "127.0.0.1", 0).start()
    complaints: list[str] = []
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        page = await browser.new_page(viewport={"width": PHONE[0], "height": PHONE[1]})
        page.on("console", lambda message: complaints.append(message.text))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        await page.goto(f"http://127.0.0.1:{runner.addresses[0][1]}/{PAGE}")
        await expect(page.locator("main")).to_contain_text("Ejtőernyőn ereszkedik")
        await expect(page.locator("main")).to_contain_text("8,1 km")
        await expect(page.locator("svg circle.land")).to_have_count(1)
        assert await page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        (tmp_path / STATE).write_text(json.dumps(friends.look(START_UTC + 1_800.0, [over])))
        await page.reload()
        await expect(page.locator("main")).to_contain_text("Leérkezett")
        await expect(page.locator("svg, main a")).to_have_count(0)
        await browser.close()
    await runner.cleanup()
    # The icon that browsers ask for by themselves is not there.
    assert [one for one in complaints if "404" not in one] == []
