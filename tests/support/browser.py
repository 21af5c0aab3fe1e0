"""A page in a real browser, shown by a real server."""

import asyncio
import contextlib
import re
from collections.abc import AsyncIterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from playwright.async_api import Browser, Page, expect

from groundstation.search.found import Found
from groundstation.search.looks import Look
from groundstation.search.search_view import SearchView
from groundstation.web.server import Desks, serve
from groundstation.web.settings import WebSettings
from groundstation.web.snapshot import StationSnapshot
from tests.support.web_scenario import STATION

# A busy machine may take long; what does not come at all still fails.
expect.set_options(timeout=60_000)

CHROMIUM = Path("/usr/bin/chromium")
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
)
PHONE = (360, 740)
DESKTOP = (1280, 800)


class NothingLooked:
    """A search in which nothing was done yet."""

    async def view(self, payload: str) -> SearchView:
        return SearchView(payload=payload, grid=None)

    async def add(self, look: Look) -> Look:
        return look

    async def take_back(self, number: int) -> bool:
        return number > 0

    async def close(self, found: Found) -> bool:
        return found.payload != ""


@dataclass(slots=True)
class Station:
    """A real server that shows whatever ``now`` is set to."""

    now: StationSnapshot = STATION
    address: str = ""
    task: asyncio.Task[None] | None = None
    seen: list[str] = field(default_factory=list)
    desks: Desks = field(default_factory=lambda: Desks(search=NothingLooked()))

    async def start(self) -> None:
        ready: asyncio.Future[str] = asyncio.get_running_loop().create_future()
        port = int(self.address.rstrip("/").rpartition(":")[2]) if self.address else 0
        self.task = asyncio.create_task(
            serve(
                WebSettings(port=port),
                lambda: self.now,
                acknowledge=self._acknowledge,
                desks=self.desks,
                ready=ready.set_result,
            )
        )
        self.address = await ready

    async def _acknowledge(self, key: str) -> bool:
        self.seen.append(key)
        messages = tuple(replace(one, seen=one.seen or one.key == key) for one in self.now.messages)
        self.now = replace(self.now, messages=messages)
        return True

    async def stop(self) -> None:
        if self.task is not None:
            self.task.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self.task
            self.task = None


@dataclass(slots=True)
class Watched:
    """A page with all it said and asked for."""

    page: Page
    complaints: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    async def told(self, name: str, card: int = 0) -> str:
        inside = "#guides" if name == "payload" else "main"
        spot = self.page.locator(f'{inside} [data-f="{name}"]').nth(card)
        return re.sub(r"\s+", " ", await spot.text_content() or "").strip()

    async def shows(self, name: str, pattern: str, card: int = 0) -> None:
        """Wait until it is told so: ages run on between two answers of the station, and the next
        one sets them right. A blank in ``pattern`` stands for any."""
        spot = self.page.locator(f'main [data-f="{name}"]').nth(card)
        await expect(spot).to_have_text(re.compile(rf"^\s*{pattern.replace(' ', chr(92) + 's')}"))

    async def fits(self) -> bool:
        return bool(
            await self.page.evaluate(
                "() => document.documentElement.scrollWidth <= innerWidth && "
                "[...document.querySelectorAll('body *:not(#map *)')]"
                ".every((e) => e.getBoundingClientRect().right <= innerWidth)"
            )
        )


@contextlib.asynccontextmanager
async def opened(
    browser: Browser, station: Station, size: tuple[int, int] = PHONE, scheme: str = "light"
) -> AsyncIterator[Watched]:
    context = await browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        color_scheme="dark" if scheme == "dark" else "light",
        timezone_id="Pacific/Auckland",
    )
    watched = Watched(await context.new_page())
    watched.page.on("console", lambda message: watched.complaints.append(message.text))
    watched.page.on("pageerror", lambda error: watched.complaints.append(str(error)))
    watched.page.on("request", lambda request: watched.asked.append(request.url))
    await watched.page.goto(station.address)
    await watched.page.wait_for_selector("body.live")
    yield watched
    await context.close()
