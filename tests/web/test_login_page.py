"""Logging in with a real browser, as a person does."""

import asyncio
import json
import os
import socket
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest
import pytest_asyncio
from playwright.async_api import Browser, async_playwright, expect

from groundstation.alerts.phone_target import PhoneDesk
from groundstation.alerts.phones import Phones, PhonesSettings
from groundstation.web.door import new_token
from groundstation.web.server import Desks, serve
from groundstation.web.settings import AccessSettings, WebSettings
from tests.support.browser import CHROMIUM, FLAGS, PHONE
from tests.support.push_service import PushService
from tests.support.web_scenario import STATION

TOKEN, HASHED = new_token()
ACCESS = (AccessSettings(name="phone", token_hash=HASHED),)

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


def own_address() -> str:
    """One that is not loopback, where this machine has one: browsers treat that differently."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
        except OSError:
            return "127.0.0.1"
        return str(probe.getsockname()[0])


@pytest.mark.parametrize("outside", [False, True], ids=["loopback", "network"])
async def test_a_person_logs_in_acts_and_stays(browser: Browser, outside: bool) -> None:
    host = own_address() if outside else "127.0.0.1"
    seen: list[str] = []

    async def acknowledge(key: str) -> bool:
        seen.append(key)
        return True

    ready: asyncio.Future[str] = asyncio.get_running_loop().create_future()
    settings = WebSettings(host=host, port=0, access=ACCESS, plain_http=True)
    task = asyncio.create_task(
        serve(settings, lambda: STATION, acknowledge=acknowledge, ready=ready.set_result)
    )
    address = await ready
    context = await browser.new_context(viewport={"width": PHONE[0], "height": PHONE[1]})
    page = await context.new_page()
    try:
        await page.goto(address)
        assert page.url == f"{address}login"
        assert await page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        for target in await page.locator("input, button").all():
            box = await target.bounding_box()
            assert box is not None
            assert min(box["width"], box["height"]) >= 44
        await page.fill("#token", "wrong")
        await page.click("button")
        await expect(page.locator("main")).to_contain_text("not known here")
        await page.fill("#token", TOKEN)
        await page.click("button")
        await page.wait_for_selector("body.live")
        assert page.url == address
        await page.reload()
        await page.wait_for_selector("body.live")
        await page.locator('#messages [data-f="seen"]').first.click()
        await expect(page.locator('#messages [data-f="seen"]').first).to_have_text("✓ Seen")
        assert seen == [STATION.messages[0].key]
    finally:
        await context.close()
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


SLOW_WORKER = """{
  const workers = navigator.serviceWorker;
  const ready = workers.ready;
  const held = new Promise((resolve) => { window.workerIsReady = resolve; });
  Object.defineProperty(workers, "ready", { get: () => held.then(() => ready) });
}"""
SUBSCRIBE = """([endpoint, key, secret]) => {
  const bytes = (text) => Uint8Array.from(
    atob(text.replace(/-/g, "+").replace(/_/g, "/")), (one) => one.charCodeAt(0)).buffer;
  const made = {
    endpoint, unsubscribe: async () => true,
    getKey: (name) => bytes(name === "auth" ? secret : key),
  };
  PushManager.prototype.subscribe = async (asked) => {
    window.askedWith = new Uint8Array(asked.applicationServerKey).length;
    return made;
  };
}"""


async def test_a_phone_comes_in_by_its_code_and_is_told(browser: Browser, tmp_path: Path) -> None:
    """Chromium's own push service is on the internet; one on this machine stands for it."""
    ready: asyncio.Future[str] = asyncio.get_running_loop().create_future()
    context = await browser.new_context(viewport={"width": PHONE[0], "height": PHONE[1]})
    async with PushService(tmp_path) as service:
        settings = PhonesSettings(contact="mailto:a@example.net", ca_file=service.authority)
        desk, handset = PhoneDesk(settings, Phones(tmp_path), "UTC"), service.handset()
        serving = serve(
            WebSettings(port=0, access=ACCESS),
            lambda: STATION,
            desks=Desks(phones=desk),
            ready=ready.set_result,
        )
        task = asyncio.create_task(serving)
        address = await ready
        await context.grant_permissions(["notifications"], origin=address)
        page = await context.new_page()
        await page.add_init_script(SLOW_WORKER)
        try:
            await page.goto(f"{address}login#token={TOKEN}")
            await page.wait_for_selector("body.live")
            assert page.url == address
            await page.evaluate(SUBSCRIBE, [*handset.given.values()])
            tell, says = page.locator("#tell-phone"), page.locator("#tell-phone-says")
            # A touch before the page's worker is ready would be lost.
            await expect(page.locator("#tell-phone-box:not([hidden])")).to_have_count(1)
            await expect(tell).to_be_disabled()
            await page.evaluate("() => window.workerIsReady()")
            await tell.click()
            await expect(says).to_contain_text("sent it a test message")
            await expect(tell).to_have_text("Tell this phone no more")
            assert handset.titles == ["This phone will be told"]
            assert await page.evaluate("window.askedWith") == 65
            # What the browser hands to the page's worker is shown.
            devtools = await context.new_cdp_session(page)
            known: asyncio.Future[str] = asyncio.get_running_loop().create_future()

            def found(told: dict[str, Any]) -> None:
                for one in told["registrations"]:
                    if not known.done():
                        known.set_result(one["registrationId"])

            devtools.on("ServiceWorker.workerRegistrationUpdated", found)
            await devtools.send("ServiceWorker.enable")
            await devtools.send(
                "ServiceWorker.deliverPushMessage",
                {
                    "origin": address.rstrip("/"),
                    "registrationId": await known,
                    "data": json.dumps(handset.shown[0]),
                },
            )
            await page.wait_for_function(
                "async () => (await (await navigator.serviceWorker.ready).getNotifications())"
                ".some((one) => one.title === 'This phone will be told' && one.tag === 'test')"
            )
            await tell.click()
            await expect(says).to_have_text("This phone is told no more.")
            assert Phones(tmp_path).all == ()
        finally:
            await context.close()
            task.cancel()
            await asyncio.gather(task, return_exceptions=True)
