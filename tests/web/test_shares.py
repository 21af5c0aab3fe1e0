"""Links to look on with: what they open, what they don't, and that they end when taken back."""

import asyncio
import os
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import aiohttp
import pytest
from playwright.async_api import async_playwright, expect

from groundstation.web import door, stream
from groundstation.web.door import WRONG_AT_MOST, new_token
from groundstation.web.server import Desks, serve
from groundstation.web.settings import AccessSettings, WebSettings
from tests.support.browser import CHROMIUM, FLAGS
from tests.support.web_scenario import STATION

TOKEN, HASHED = new_token()
ACCESS = (AccessSettings(name="owner", token_hash=HASHED),)
OWNER = {"Authorization": f"Bearer {TOKEN}"}


@asynccontextmanager
async def running(folder: Path, access: tuple[AccessSettings, ...] = ACCESS) -> AsyncIterator[str]:
    ready: asyncio.Future[str] = asyncio.get_running_loop().create_future()
    desks = Desks(shares=folder / "links.json")
    settings = WebSettings(port=0, access=access)

    async def acknowledge(_key: str) -> bool:
        return True

    task = asyncio.create_task(
        serve(
            settings, lambda: STATION, acknowledge=acknowledge, desks=desks, ready=ready.set_result
        )
    )
    try:
        yield await ready
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


@asynccontextmanager
async def client(address: str) -> AsyncIterator[aiohttp.ClientSession]:
    jar = aiohttp.CookieJar(unsafe=True)
    async with aiohttp.ClientSession(base_url=address, cookie_jar=jar) as session:
        yield session


async def made(session: aiohttp.ClientSession, name: str = "helpers") -> str:
    async with session.post("/api/shares", json={"name": name}, headers=OWNER) as answer:
        assert answer.status == 200, await answer.text()
        told = await answer.json()
        assert told["name"] == name
        return str(told["path"])


async def take_back(session: aiohttp.ClientSession, name: str = "helpers") -> int:
    async with session.post("/api/shares/take-back", json={"name": name}, headers=OWNER) as answer:
        return answer.status


async def status(session: aiohttp.ClientSession, path: str, method: str = "GET") -> int:
    more = {"json": {"name": "x"}} if method == "POST" else {}
    async with session.request(method, path, **more) as answer:  # type: ignore[arg-type]
        await answer.read()
        return answer.status


async def test_a_link_lets_look_and_nothing_else_until_it_is_taken_back(tmp_path: Path) -> None:
    async with running(tmp_path) as address, client(address) as helper, client(address) as owner:
        path = await made(owner)
        assert await status(helper, "/api/state") == 401
        assert await status(helper, path) == 200
        assert await status(helper, "/api/state") == 200
        for forbidden in ("/api/shares", "/api/shares/take-back"):
            assert await status(helper, forbidden, "POST") == 403
        assert await status(helper, "/api/shares") == 403
        assert await take_back(owner) == 200
        assert await status(helper, "/api/state") == 401
        assert await status(helper, path) == 404
        assert await take_back(owner) == 404


async def test_taking_back_ends_what_is_being_watched(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(stream, "EVERY_S", 0.05)
    async with running(tmp_path) as address, client(address) as helper, client(address) as owner:
        await status(helper, await made(owner))
        async with helper.get("/api/stream") as told:
            assert (await told.content.readany()).startswith(b"event: ")
            assert await take_back(owner) == 200
            await told.content.read()


async def test_links_outlive_a_new_start_and_are_kept_as_hashes(tmp_path: Path) -> None:
    async with running(tmp_path) as address, client(address) as owner:
        path = await made(owner)
    kept = tmp_path / "links.json"
    assert path.rpartition("/")[2] not in kept.read_text()
    assert kept.stat().st_mode & 0o077 == 0
    async with running(tmp_path) as address, client(address) as helper:
        assert await status(helper, path) == 200
        assert await status(helper, "/api/state") == 200


@pytest.mark.parametrize("text", ["", "[]", '{"a": 5}', '{"a": "zz"}', "\x00"])
async def test_a_damaged_file_lets_nobody_in_and_hinders_nothing(tmp_path: Path, text: str) -> None:
    (tmp_path / "links.json").write_text(text)
    async with running(tmp_path) as address, client(address) as owner:
        assert await status(owner, "/look/a") == 404
        await made(owner)


async def test_guessing_links_is_bounded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(door, "WRONG_OVER_S", 86_400.0)
    async with running(tmp_path) as address, client(address) as stranger:
        codes = [await status(stranger, f"/look/{n}") for n in range(WRONG_AT_MOST + 5)]
    assert codes == [404] * WRONG_AT_MOST + [429] * 5


async def test_without_access_there_is_nothing_to_share(tmp_path: Path) -> None:
    async with (
        running(tmp_path, ()) as address,
        client(address) as owner,
        owner.post("/api/shares", json={"name": "x"}) as answer,
    ):
        assert answer.status == 409
        assert "Only this machine" in await answer.text()


@pytest.mark.live
@pytest.mark.skipif(
    not CHROMIUM.exists() and "CI" not in os.environ, reason=f"there is no {CHROMIUM}"
)
async def test_a_link_that_another_site_shows_opens_in_a_browser(tmp_path: Path) -> None:
    """As from a messenger on the web: the first request comes from elsewhere."""
    async with (
        running(tmp_path) as address,
        client(address) as owner,
        async_playwright() as playwright,
    ):
        path = await made(owner, "<i>friends</i>")
        browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        page = await browser.new_page()
        elsewhere = address.replace("127.0.0.1", "localhost")
        await page.set_content(f'<a href="{elsewhere.rstrip("/")}{path}">Look</a>')
        await page.get_by_text("Look").click()
        await page.wait_for_selector("body.live")
        await page.locator("#crew > summary").click()
        await expect(page.locator("#share-box")).to_be_hidden()
        button = page.locator('#messages [data-f="seen"]').first
        await button.click()
        await expect(button).to_have_text("Not allowed")
        await browser.close()
