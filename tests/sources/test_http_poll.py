"""Fetching positions, from a real HTTP server."""

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass, field
from typing import Any

import pytest
from aiohttp import web

from groundstation.clock import SystemClock
from groundstation.decoders.feeds import FeedForm, FeedSettings
from groundstation.decoders.json_map import JsonSettings
from groundstation.errors import ConfigurationError, SourceError
from groundstation.settings.secret import Secret
from groundstation.sources import http_poll
from groundstation.sources.health import HealthRecorder
from groundstation.sources.http_poll import HttpPollSettings, HttpPollSource, NamedSecret
from groundstation.sources.pace import Pace
from tests.support.keeper import Keeper, until
from tests.support.mosquitto import free_port

GOOD = '{"tracker": "Q0HAB-13", "lat": 47.1, "lon": 20.3}'


@dataclass
class Service:
    """Answers with ``answer``; ``asked`` are the headers that came."""

    url: str = ""
    asked: list[Any] = field(default_factory=list)
    answer: Callable[[web.Request], web.Response] = lambda _: web.Response(text=GOOD)


@contextlib.asynccontextmanager
async def serving() -> AsyncIterator[Service]:
    service = Service()

    async def get(request: web.Request) -> web.Response:
        service.asked.append(request.headers.copy())
        return service.answer(request)

    app = web.Application()
    app.router.add_get("/{path:.*}", get)
    runner = web.AppRunner(app, access_log=None)
    await runner.setup()
    await web.TCPSite(runner, "127.0.0.1", 0).start()
    service.url = f"http://127.0.0.1:{runner.addresses[0][1]}/feed"
    yield service
    await runner.cleanup()


@pytest.fixture(autouse=True)
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(http_poll, "LEAST_S", 0.01)


@contextlib.asynccontextmanager
async def polling(
    url: str, keeper: Keeper, pace: Pace | None = None, **changes: Any
) -> AsyncIterator[asyncio.Task[None]]:
    given: dict[str, Any] = {
        "name": "poll",
        "url": url,
        "decoder": JsonSettings(),
        "interval_s": 0.05,
        "descent_s": 0.05,
    }
    source = HttpPollSource(HttpPollSettings(**(given | changes)), SystemClock(), pace or Pace())
    health = HealthRecorder("poll", "http-poll", SystemClock())
    task = asyncio.create_task(source.run(keeper, health))
    try:
        yield task
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


async def test_only_what_is_new_is_kept() -> None:
    async with serving() as service:
        keeper = Keeper()
        async with polling(service.url, keeper):
            await until(lambda: len(service.asked) >= 4)
            assert keeper.texts == [GOOD]
            service.answer = lambda _: web.Response(text=GOOD.replace("47.1", "47.2"))
            await until(lambda: len(keeper.frames) == 2)


async def test_it_asks_with_what_the_server_gave() -> None:
    """RFC 9110, 13.1.2 and 13.1.3."""
    marks = {"ETag": '"one"', "Last-Modified": "Sat, 16 May 2026 09:00:00 GMT"}

    def answer(request: web.Request) -> web.Response:
        if request.headers.get("If-None-Match") == '"one"':
            return web.Response(status=304)
        return web.Response(text=GOOD, headers=marks)

    async with serving() as service:
        service.answer = answer
        keeper = Keeper()
        async with polling(service.url, keeper, token=Secret("open-sesame")):
            await until(lambda: len(service.asked) >= 3)
        assert keeper.texts == [GOOD]
        assert service.asked[1]["If-Modified-Since"] == marks["Last-Modified"]
        assert service.asked[0]["Authorization"] == "Bearer open-sesame"


@pytest.fixture
def pauses(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Every pause of a second and more, in seconds; it is over at once."""
    found: list[float] = []
    sleep = asyncio.sleep

    async def noted(seconds: float) -> None:
        if seconds >= 1.0:
            found.append(seconds)
            seconds = 0.0
        await sleep(seconds)

    monkeypatch.setattr(asyncio, "sleep", noted)
    return found


async def test_it_hurries_while_something_falls(pauses: list[float]) -> None:
    async with serving() as service:
        pace = Pace()
        async with polling(service.url, Keeper(), pace, interval_s=600.0, descent_s=20.0):
            await until(lambda: len(service.asked) >= 3)
            assert set(pauses) == {600.0}
            pace.hurried = True
            calm = len(pauses)
            await until(lambda: len(pauses) >= calm + 3)
            assert set(pauses[calm:]) == {20.0}


async def test_a_server_that_asks_for_patience_gets_it(pauses: list[float]) -> None:
    async with serving() as service:
        service.answer = lambda _: web.Response(status=429, headers={"Retry-After": "60"})
        async with polling(service.url, Keeper()) as task:
            await until(lambda: len(pauses) >= 2)
            assert set(pauses) == {60.0}
            assert not task.done()


async def test_links_of_a_kml_file_are_followed_on_the_same_host() -> None:
    point = "<Point><coordinates>20,47</coordinates></Point>"
    inner = f"<kml><Placemark><name>a</name>{point}</Placemark></kml>"

    def answer(request: web.Request) -> web.Response:
        if request.path == "/inner.kml":
            return web.Response(text=inner)
        links = "".join(
            f"<NetworkLink><Link><href>{href}</href></Link></NetworkLink>"
            for href in ("/inner.kml", "http://127.0.0.2:1/stolen")
        )
        return web.Response(text=f"<kml>{links}</kml>")

    async with serving() as service:
        service.answer = answer
        keeper = Keeper()
        async with polling(service.url, keeper, decoder=FeedSettings(form=FeedForm.KML)) as task:
            await until(lambda: len(service.asked) >= 6)
            assert keeper.texts == [inner]
            assert not task.done()


async def test_failures_are_source_errors() -> None:
    async with serving() as service:
        service.answer = lambda _: web.Response(status=404)
        async with polling(service.url, Keeper()) as task:
            with pytest.raises(SourceError, match="answered 404 Not Found"):
                await task
    async with polling(f"http://127.0.0.1:{free_port()}/", Keeper()) as task:
        with pytest.raises(SourceError, match="can't be reached"):
            await task


async def test_a_feed_without_end_is_cut(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(http_poll, "MAX_FEED_BYTES", 100_000)
    async with serving() as service:
        service.answer = lambda _: web.Response(body=b"x" * 3_000_000)
        keeper = Keeper()
        async with polling(service.url, keeper):
            await until(lambda: len(keeper.frames) == 1)
        assert 100_000 < len(keeper.frames[0].data) < 200_000


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"url": "ftp://x/"}, "not an http"),
        ({"url": "http://user:word@x/"}, "no password"),
        ({"interval_s": 0.001}, "at least"),
    ],
)
def test_settings_that_cannot_work(changes: dict[str, Any], says: str) -> None:
    given: dict[str, Any] = {"name": "p", "url": "http://x/", "decoder": JsonSettings()}
    with pytest.raises(ConfigurationError, match=says):
        HttpPollSource(HttpPollSettings(**(given | changes)), SystemClock(), Pace())


async def test_a_redirection_to_another_host_is_not_followed() -> None:
    async with serving() as elsewhere, serving() as service:

        def lead_away(_: web.Request) -> web.Response:
            raise web.HTTPFound(elsewhere.url)

        service.answer = lead_away
        async with polling(service.url, Keeper(), token=Secret("of-nobody-else")) as task:
            with pytest.raises(SourceError, match="redirections to another place"):
                await task
        assert elsewhere.asked == []


async def test_a_redirection_on_the_same_host_is_followed() -> None:
    async with serving() as service:

        def move(request: web.Request) -> web.Response:
            if request.path == "/feed":
                raise web.HTTPMovedPermanently("/new/feed")
            return web.Response(text=GOOD)

        service.answer = move
        keeper = Keeper()
        async with polling(service.url, keeper):
            await until(lambda: len(keeper.frames) == 1)


async def test_a_redirection_in_a_circle_ends() -> None:
    async with serving() as service:

        def around(_: web.Request) -> web.Response:
            raise web.HTTPFound("/feed")

        service.answer = around
        async with polling(service.url, Keeper()) as task:
            with pytest.raises(SourceError, match="on and on"):
                await task


async def test_the_service_gets_the_login_the_headers_and_the_query_that_it_wants() -> None:
    keeper = Keeper()
    async with serving() as service:
        changes: dict[str, Any] = {
            "username": "club",
            "password": Secret("open-sesame"),
            "header": (NamedSecret(name="X-Key", value=Secret("abc")),),
            "query": (NamedSecret(name="api_key", value=Secret("d e")),),
        }
        queries: list[dict[str, str]] = []

        def answer(request: web.Request) -> web.Response:
            queries.append(dict(request.query))
            return web.Response(text=GOOD)

        service.answer = answer
        async with polling(f"{service.url}?id=1", keeper, **changes):
            await until(lambda: bool(keeper.frames))
    asked = service.asked[0]
    # RFC 7617: the pair in base64.
    assert asked["Authorization"] == "Basic Y2x1YjpvcGVuLXNlc2FtZQ=="
    assert asked["X-Key"] == "abc"
    assert queries[0] == {"id": "1", "api_key": "d e"}


async def test_a_refused_login_says_what_to_look_at() -> None:
    async with serving() as service:
        service.answer = lambda _: web.Response(status=401)
        with pytest.raises(SourceError, match="look at token, username and password"):
            async with polling(service.url, Keeper()) as task:
                await task
        with pytest.raises(SourceError, match="speaks no TLS"):
            async with polling(service.url.replace("http:", "https:"), Keeper()) as task:
                await task
