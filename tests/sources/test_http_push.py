"""The webhook, over real HTTP."""

import asyncio
import contextlib
import hashlib
import hmac
import json
from collections.abc import AsyncIterator, Callable
from typing import Any

import aiohttp
import pytest

from groundstation.clock import SystemClock
from groundstation.decoders.json_map import JsonSettings
from groundstation.errors import ConfigurationError, SourceError
from groundstation.records import Frame
from groundstation.settings.secret import Secret
from groundstation.sources import http_push
from groundstation.sources.health import HealthRecorder
from groundstation.sources.http_push import HttpPushSettings, HttpPushSource, SignatureSettings
from tests.support.keeper import Keeper, until
from tests.support.mosquitto import free_port

GOOD = {"tracker": "Q0HAB-13", "lat": 47.1, "lon": 20.3, "alt_m": 1200}


class Never:
    """A pipeline whose disk never answers."""

    async def __call__(self, frame: Frame, stored: Callable[[], None] | None = None) -> None:
        pass


@contextlib.asynccontextmanager
async def listening(
    keeper: Any = None, **changes: Any
) -> AsyncIterator[tuple[str, aiohttp.ClientSession, Any]]:
    keeper = keeper or Keeper()
    given: dict[str, Any] = {"name": "hook", "decoder": JsonSettings(), "port": free_port()}
    settings = HttpPushSettings(**(given | changes))
    health = HealthRecorder("hook", "http-push", SystemClock())
    task = asyncio.create_task(HttpPushSource(settings, SystemClock()).run(keeper, health))
    try:
        await until(lambda: health.is_open or task.done())
        async with aiohttp.ClientSession() as client:
            yield f"http://127.0.0.1:{settings.port}{settings.path}", client, keeper
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


async def posted(client: aiohttp.ClientSession, url: str, **what: Any) -> tuple[int, str]:
    async with client.post(url, **what) as answer:
        return answer.status, await answer.text()


async def test_a_message_is_kept_before_it_is_answered() -> None:
    gate = asyncio.Event()
    async with listening(Keeper(gate=gate), path="/in") as (url, client, keeper):
        asking = asyncio.create_task(posted(client, url, json=GOOD))
        await until(lambda: len(keeper.frames) == 1)
        await asyncio.sleep(0.1)
        assert not asking.done()
        gate.set()
        assert (await asking)[0] == 200
        assert json.loads(keeper.frames[0].data) == GOOD
        assert keeper.frames[0].receiver == "127.0.0.1"
        assert (await posted(client, url.replace("/in", "/other"), json=GOOD))[0] == 404
        async with client.put(url) as answer:
            assert answer.status == 405


async def test_a_form_is_kept_as_its_fields() -> None:
    async with listening() as (url, client, keeper):
        status, _ = await posted(client, url, data={name: str(v) for name, v in GOOD.items()})
        assert status == 200
        assert json.loads(keeper.frames[0].data) == {n: str(v) for n, v in GOOD.items()}


async def test_what_is_not_understood_is_kept_all_the_same() -> None:
    async with listening() as (url, client, keeper):
        status, said = await posted(client, url, data=b"\xff not json")
        # A service that is told of an error would send the same for ever.
        assert status == 202
        assert "not UTF-8" in said
        assert keeper.frames[0].data == b"\xff not json"


async def test_a_query_and_a_form_with_parts_are_kept_as_their_fields() -> None:
    token = Secret("open-sesame")
    async with listening(token=token) as (url, client, keeper):
        query = {name: str(value) for name, value in GOOD.items()}
        async with client.get(url, params={**query, "token": "open-sesame"}) as answer:
            assert answer.status == 200
        form = aiohttp.FormData()
        for name, value in query.items():
            form.add_field(name, value, content_type="text/plain")
        login = {"Authorization": aiohttp.encode_basic_auth("any", "open-sesame")}
        assert (await posted(client, url, data=form, headers=login))[0] == 200
        assert [json.loads(frame.data) for frame in keeper.frames] == [query, query]
        async with client.get(url, params=query) as answer:
            assert answer.status == 401


async def test_an_empty_call_that_tries_the_address_is_answered_well_and_not_kept() -> None:
    async with listening() as (url, client, keeper):
        async with client.get(url) as answer:
            assert answer.status == 200
        assert (await posted(client, url, data=b""))[0] == 200
        assert not keeper.frames


async def test_a_time_that_cannot_be_read_is_told_to_the_sender() -> None:
    async with listening() as (url, client, _):
        status, said = await posted(client, url, json=GOOD | {"time": "26-11-27 00:10:00"})
        assert status == 202
        assert "26-11-27 00:10:00" in said


async def test_limits(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(http_push, "RATE_OVER_S", 86_400.0)
    async with listening(most_bytes=200, most_a_minute=2) as (url, client, keeper):
        status, said = await posted(client, url, data=b"x" * 300)
        assert (status, "at most 200 bytes" in said) == (413, True)
        assert [(await posted(client, url, json=GOOD))[0] for _ in range(3)] == [200, 200, 429]
        assert len(keeper.frames) == 2


async def test_a_token_in_the_header_or_in_the_address() -> None:
    async with listening(token=Secret("open-sesame")) as (url, client, keeper):
        for right in (
            {"headers": {"Authorization": "Bearer open-sesame"}},
            {"params": {"token": "open-sesame"}},
        ):
            assert (await posted(client, url, json=GOOD, **right))[0] == 200
        for wrong in (
            {},
            {"headers": {"Authorization": "Bearer open-sesam"}},
            {"headers": {"Authorization": "Basic open-sesame"}},
            {"params": {"token": "ä"}},
        ):
            status, said = await posted(client, url, json=GOOD, **wrong)
            assert status == 401
            assert "open-sesame" not in said
        assert len(keeper.frames) == 2


async def test_a_signature_of_the_body() -> None:
    """HMAC as in RFC 2104, made here by the standard library."""
    body = json.dumps(GOOD).encode()
    made = hmac.new(b"key", body, hashlib.sha256).hexdigest()
    signature = SignatureSettings(secret=Secret("key"), prefix="sha256=")
    async with listening(signature=signature) as (url, client, keeper):

        async def signed(header: str, sent: bytes = body) -> int:
            return (await posted(client, url, data=sent, headers={"X-Signature": header}))[0]

        assert await signed(f"sha256={made}") == 200
        assert await signed(made) == 401
        assert await signed(f"sha256={made}", body + b" ") == 401
        assert len(keeper.frames) == 1


async def test_a_busy_station_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(http_push, "STORED_S", 0.2)
    async with listening(Never()) as (url, client, _), client.post(url, json=GOOD) as answer:
        assert answer.status == 503
        assert "Retry-After" in answer.headers


async def test_a_port_that_is_taken_is_a_source_error() -> None:
    async with listening() as (url, _, _keeper):
        port = int(url.rsplit(":", 1)[1].strip("/"))
        settings = HttpPushSettings(name="b", decoder=JsonSettings(), port=port)
        health = HealthRecorder("b", "http-push", SystemClock())
        with pytest.raises(SourceError, match="cannot listen"):
            await HttpPushSource(settings, SystemClock()).run(Keeper(), health)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"host": "0.0.0.0"}, "lets anybody post"),
        ({"path": "hook"}, "must begin with /"),
        ({"port": 70_000}, "port"),
        ({"most_bytes": 0}, "most_bytes"),
    ],
)
def test_settings_that_cannot_work(changes: dict[str, Any], says: str) -> None:
    given: dict[str, Any] = {"name": "hook", "decoder": JsonSettings()}
    with pytest.raises(ConfigurationError, match=says):
        HttpPushSource(HttpPushSettings(**(given | changes)), SystemClock())
