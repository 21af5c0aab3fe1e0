"""A rehearsal held and hurried; phones that say where they are; both over real HTTP."""

import asyncio
import time
from collections.abc import AsyncIterator
from typing import Any

import aiohttp
import pytest

from groundstation.clock import HURRY, RehearsalClock
from groundstation.web import positions
from groundstation.web.server import Desks, serve
from groundstation.web.settings import WebSettings
from tests.support.web_scenario import STATION

START = 1_778_920_200.0


class Steady:
    """Time that passes when it is told to."""

    def __init__(self) -> None:
        self.now_s = 100.0

    def monotonic(self) -> float:
        return self.now_s


@pytest.fixture
def steady(monkeypatch: pytest.MonkeyPatch) -> Steady:
    made = Steady()
    monkeypatch.setattr("groundstation.clock.time.monotonic", made.monotonic)
    return made


def test_a_rehearsal_is_held_and_goes_on(steady: Steady) -> None:
    clock = RehearsalClock(START, 30.0)
    steady.now_s += 10.0
    assert clock.now_utc() == START + 300.0
    clock.set_speed(0.0)
    steady.now_s += 1_000.0
    assert clock.now_utc() == START + 300.0
    assert clock.speed == 0.0
    clock.set_speed(2.0)
    steady.now_s += 5.0
    assert clock.now_utc() == START + 310.0


def test_running_ahead_leaves_nothing_out_and_ends_where_it_should(steady: Steady) -> None:
    clock = RehearsalClock(START, 2.0)
    clock.run_ahead(600.0)
    assert clock.speed == HURRY
    steady.now_s += 0.5
    assert clock.now_utc() == START + 0.5 * HURRY
    steady.now_s += 0.5 + 10.0
    assert clock.now_utc() == pytest.approx(START + 600.0 + 2.0 * 10.0)
    assert clock.speed == 2.0


def test_a_held_rehearsal_runs_ahead_and_is_held_again(steady: Steady) -> None:
    clock = RehearsalClock(START, 0.0)
    clock.run_ahead(60.0)
    steady.now_s += 100.0
    assert clock.now_utc() == START + 60.0
    assert clock.speed == 0.0


@pytest.fixture
async def client() -> AsyncIterator[aiohttp.ClientSession]:
    ready: asyncio.Future[str] = asyncio.get_running_loop().create_future()
    desks = Desks(rehearsal=RehearsalClock(START))
    task = asyncio.create_task(
        serve(WebSettings(port=0), lambda: STATION, desks=desks, ready=ready.set_result)
    )
    async with aiohttp.ClientSession(base_url=await ready) as session:
        yield session
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)


async def posted(client: aiohttp.ClientSession, path: str, body: Any) -> int:
    async with client.post(path, json=body) as answer:
        return answer.status


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({"speed": 10}, 200), ({"speed": 0}, 200), ({"ahead_s": 600}, 200), ({"speed": -1}, 422),
        ({"speed": 1e9}, 422), ({"speed": True}, 422), ({"speed": "1"}, 422), ({}, 422),
        ({"ahead_s": -5}, 422), ([], 422),
    ],
)  # fmt: skip
async def test_the_pace_is_changed_within_bounds(
    client: aiohttp.ClientSession, body: Any, status: int
) -> None:
    assert await posted(client, "/api/rehearsal", body) == status


async def vehicles(client: aiohttp.ClientSession) -> list[dict[str, Any]]:
    async with client.get("/api/state") as answer:
        found: list[dict[str, Any]] = (await answer.json())["vehicles"]
        return found


async def test_a_phone_is_seen_as_long_as_it_says_so(
    client: aiohttp.ClientSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    here = {"name": "Kék autó", "lat": 47.1, "lon": 20.3, "speed_ms": 20.0, "course_deg": None}
    begun_s = time.monotonic()
    assert await posted(client, "/api/position", here) == 200
    [one] = await vehicles(client)
    assert (one["vehicle"], one["lat"], one["speed_ms"]) == ("Kék autó", 47.1, 20.0)
    assert one["to_landing"][0]["straight_in_s"] > 0
    heard_s = time.monotonic()
    await asyncio.sleep(0.3)
    asked_s = time.monotonic()
    [later] = await vehicles(client)
    # Its age is real, though the station's own time runs otherwise. It is told to a tenth.
    least_s, most_s = asked_s - heard_s, time.monotonic() - begun_s
    assert least_s - 0.1 <= later["age_s"] <= most_s + 0.1
    assert await posted(client, "/api/position", {"name": "Kék autó", "stop": True}) == 200
    assert await vehicles(client) == []
    monkeypatch.setattr(positions, "FORGOTTEN_S", 0.0)
    assert await posted(client, "/api/position", here) == 200
    assert await vehicles(client) == []


@pytest.mark.parametrize(
    "body",
    [
        {"lat": 47.1, "lon": 20.3}, {"name": " ", "lat": 47.1, "lon": 20.3},
        {"name": "x" * 31, "lat": 47.1, "lon": 20.3}, {"name": "x", "lat": 91, "lon": 20.3},
        {"name": "x", "lat": "47", "lon": 20.3}, {"name": "x", "lat": True, "lon": 20.3},
        {"name": "x"}, {"name": "x", "lat": 47.1, "lon": 20.3, "speed_ms": "fast"},
    ],
)  # fmt: skip
async def test_what_is_no_place_is_refused(
    client: aiohttp.ClientSession, body: dict[str, Any]
) -> None:
    assert await posted(client, "/api/position", body) == 422
    assert await vehicles(client) == []


async def test_phones_are_bounded(client: aiohttp.ClientSession) -> None:
    codes = [
        await posted(client, "/api/position", {"name": f"car {n}", "lat": 47.0, "lon": 20.0})
        for n in range(positions.MOST + 2)
    ]
    assert codes == [200] * positions.MOST + [409] * 2
