"""The stream told over real HTTP, put together again as a page does it."""

import asyncio
import json
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from typing import Any

import aiohttp
import pytest

from groundstation.flight.moves import Move
from groundstation.flight.track import Point
from groundstation.jsonout import JsonObject
from groundstation.schema.encode import record_json
from groundstation.web import server, stream
from groundstation.web.server import serve
from groundstation.web.settings import WebSettings
from groundstation.web.snapshot import StationSnapshot
from groundstation.web.state_changes import change, lean
from tests.support.keeper import until
from tests.support.web_scenario import FALLING, NOW_UTC, STATION, landing, last_fix

TRACK = tuple(Point(NOW_UTC - 3000.0 + 30.0 * n, 47.1, 20.3 + n / 1e3, 40.0 * n) for n in range(60))


class Told:
    """What a page knows."""

    def __init__(self) -> None:
        self.state: JsonObject = {}
        self.trails: dict[tuple[str, str], list[Any]] = {}
        self.known = ""
        self.sizes: list[int] = []

    def take(self, block: str) -> None:
        told = dict(row.split(": ", 1) for row in block.split("\n"))
        data = json.loads(told["data"])
        self.sizes.append(len(block))
        match told["event"]:
            case "state":
                self.state = data
            case "change":
                merge(self.state, data)
            case "trail":
                trail = self.trails.setdefault((data["payload"], data["trail"]), [])
                if data["anew"]:
                    trail.clear()
                trail.extend(data["points"])
        self.known = told.get("id", self.known)


def merge(known: Any, told: JsonObject) -> None:
    for name, value in told.items():
        at: Any = int(name) if isinstance(known, list) else name
        old = known[at] if isinstance(known, list) else known.get(name)
        if isinstance(value, dict) and isinstance(old, dict | list):
            merge(old, value)
            if name in ("telemetry", "messages"):
                for gone in [one for one in value if value[one] is None]:
                    del old[gone]
        else:
            known[at] = value


class Served:
    def __init__(self) -> None:
        self.now: StationSnapshot = replace(STATION, payloads=(replace(FALLING, track=TRACK[:50]),))
        self.address = ""
        self.refused = 0
        self.able = True

    def tell(self) -> StationSnapshot:
        if not self.able:
            self.refused += 1
            raise ValueError("not now")
        return self.now


@pytest.fixture
async def served(monkeypatch: pytest.MonkeyPatch) -> AsyncIterator[Served]:
    monkeypatch.setattr(stream, "EVERY_S", 0.05)
    # Pages that are open at the end are not waited for.
    monkeypatch.setattr(server, "SHUTDOWN_S", 0.05)
    made = Served()
    ready: asyncio.Future[str] = asyncio.get_running_loop().create_future()
    task = asyncio.create_task(serve(WebSettings(port=0), made.tell, ready=ready.set_result))
    made.address = await ready
    yield made
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)


@asynccontextmanager
async def listening(served: Served, told: Told, after: str = "") -> AsyncIterator[None]:
    async with (
        aiohttp.ClientSession() as client,
        client.get(f"{served.address}api/stream", params={"after": after}) as answer,
    ):
        assert answer.content_type == "text/event-stream"

        async def read() -> None:
            left = ""
            async for data in answer.content.iter_any():
                *blocks, left = (left + data.decode()).split("\n\n")
                for block in blocks:
                    told.take(block)

        task = asyncio.create_task(read())
        yield
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


async def until_same(served: Served, told: Told) -> None:
    wanted = json.loads(json.dumps(lean(record_json(served.now))))
    await until(lambda: told.state == wanted)


async def test_changes_make_the_same_state(served: Served) -> None:
    told = Told()
    async with listening(served, told):
        await until_same(served, told)
        falling = served.now.payloads[0]
        for step in range(1, 8):
            falling = replace(
                falling,
                last=last_fix(
                    altitude_m=12_000.0 - 50 * step, telemetry=(("battery_v", 3.7 - step),)
                ),
                landing=None if step == 4 else landing(radius_50_m=1_000.0 + step),
                track=TRACK[: 50 + step],
            )
            served.now = replace(
                served.now, now_utc=NOW_UTC + step, payloads=(falling,),
                problems=("something",) * (step % 3), messages=served.now.messages[step % 2 :],
            )  # fmt: skip
            await until_same(served, told)
    assert len(told.trails["kanalas-1", "track"]) == 57


async def test_who_was_away_gets_what_is_missing_and_nothing_twice(served: Served) -> None:
    told = Told()
    async with listening(served, told):
        await until_same(served, told)
    falling = served.now.payloads[0]
    moves = (Move(NOW_UTC, 47.2, 20.8, 900.0),)
    served.now = replace(served.now, payloads=(replace(falling, track=TRACK, moves=moves),))
    async with listening(served, told, told.known):
        await until(lambda: bool(told.trails.get(("kanalas-1", "moves"))))
    times = [point[0] for point in told.trails["kanalas-1", "track"]]
    assert times == [point.time_utc for point in TRACK]


async def test_a_point_taken_back_and_a_new_flight_begin_the_trail_anew(served: Served) -> None:
    told = Told()
    async with listening(served, told):
        await until_same(served, told)
        falling = served.now.payloads[0]
        without = (*TRACK[:20], *TRACK[21:50])
        served.now = replace(
            served.now, now_utc=NOW_UTC + 1, payloads=(replace(falling, track=without),)
        )
        await until_same(served, told)
        assert len(told.trails["kanalas-1", "track"]) == 49
        again = tuple(point._replace(time_utc=point.time_utc + 86_400.0) for point in TRACK[:3])
        served.now = replace(
            served.now, now_utc=NOW_UTC + 2, payloads=(replace(falling, track=again),)
        )
        await until_same(served, told)
        assert len(told.trails["kanalas-1", "track"]) == 3


@pytest.mark.parametrize("after", ["x", "-", "00000000-5", "1-99999999999999999999", "é-²"])
async def test_an_id_of_another_station_or_of_nobody_gets_all(served: Served, after: str) -> None:
    told = Told()
    async with listening(served, told, after):
        await until_same(served, told)
        assert len(told.trails["kanalas-1", "track"]) == 50


async def test_a_state_that_can_not_be_told_leaves_the_page_open_and_comes_later(
    served: Served,
) -> None:
    told = Told()
    async with listening(served, told):
        await until_same(served, told)
        served.able = False
        await until(lambda: served.refused >= 2)
        served.now, served.able = replace(served.now, now_utc=NOW_UTC + 9.0), True
        await until_same(served, told)


async def test_fifty_pages_are_told_the_same(served: Served) -> None:
    pages = [Told() for _ in range(50)]
    async with asyncio.TaskGroup() as group:
        for told in pages:
            group.create_task(follow(served, told))
    assert all(told.state == pages[0].state for told in pages)


async def follow(served: Served, told: Told) -> None:
    async with listening(served, told):
        await until_same(served, told)


def test_nothing_changed_is_nothing_told() -> None:
    state = lean(record_json(STATION))
    assert change(state, lean(record_json(STATION))) == {}
