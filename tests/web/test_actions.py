"""What may be done by the page, and by whom."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import aiohttp
import pytest

from groundstation.web.actions import figure
from groundstation.web.door import new_token
from groundstation.web.server import serve
from groundstation.web.settings import AccessSettings, Role, WebSettings
from tests.support.web_scenario import STATION

FULL, FULL_HASH = new_token()
LOOK, LOOK_HASH = new_token()
SETTINGS = WebSettings(
    port=0,
    access=(
        AccessSettings(name="phone", token_hash=FULL_HASH),
        AccessSettings(name="helpers", token_hash=LOOK_HASH, role=Role.LOOK),
    ),
)


@asynccontextmanager
async def running(seen: list[str]) -> AsyncIterator[aiohttp.ClientSession]:
    async def acknowledge(key: str) -> bool:
        seen.append(key)
        return key == "known"

    ready: asyncio.Future[str] = asyncio.get_running_loop().create_future()
    task = asyncio.create_task(
        serve(SETTINGS, lambda: STATION, acknowledge=acknowledge, ready=ready.set_result)
    )
    try:
        async with aiohttp.ClientSession(base_url=await ready) as client:
            yield client
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


def by(token: str, **more: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {token}", **more}


async def test_an_alert_is_marked_as_seen_by_who_may() -> None:
    seen: list[str] = []
    path = "/api/acknowledge"
    async with running(seen) as client:
        tries = [
            (by(FULL), {"json": {"key": "known"}}, 200),
            (by(FULL), {"json": {"key": "other"}}, 404),
            (by(LOOK), {"json": {"key": "known"}}, 403),
            ({}, {"json": {"key": "known"}}, 401),
            (by(FULL), {"data": "key=known"}, 415),
            (by(FULL), {"json": {"key": 7}}, 422),
            (by(FULL), {"json": ["known"]}, 422),
            (by(FULL, Origin="https://evil.example"), {"json": {"key": "known"}}, 403),
            (by(FULL), {"json": {"key": "x" * 20_000}}, 413),
        ]
        for headers, what, status in tries:
            async with client.post(path, headers=headers, **what) as answer:  # type: ignore[arg-type]
                assert answer.status == status, (what, await answer.text())
        async with client.get(path, headers=by(FULL)) as answer:
            assert answer.status == 405
    assert seen == ["known", "other"]


def test_a_number_of_four_hundred_digits_is_refused_in_words() -> None:
    with pytest.raises(ValueError, match="too large"):
        figure({"chance": 10**400}, "chance")
