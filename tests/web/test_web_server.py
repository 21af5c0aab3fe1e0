"""The real server asked by a real client over the loopback."""

import asyncio
import hashlib
import re
import socket
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path

import aiohttp
import pytest

from groundstation.errors import ConfigurationError
from groundstation.jsonout import line
from groundstation.web import server
from groundstation.web.server import serve
from groundstation.web.settings import WebSettings
from groundstation.web.snapshot import StationSnapshot
from groundstation.web.state_api import state_json
from tests.support.web_scenario import STATION

PAGES = ("/", "/api/state", "/api/health", "/healthz", "/static/page.js", "/missing")


@asynccontextmanager
async def running(
    snapshot: Callable[[], StationSnapshot] = lambda: STATION, port: int = 0
) -> AsyncIterator[str]:
    ready: asyncio.Future[str] = asyncio.get_running_loop().create_future()
    task = asyncio.create_task(serve(WebSettings(port=port), snapshot, ready=ready.set_result))
    try:
        yield await ready
    finally:
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task


@pytest.fixture
async def client() -> AsyncIterator[aiohttp.ClientSession]:
    async with running() as address, aiohttp.ClientSession(base_url=address) as session:
        yield session


async def test_the_state_arrives_as_it_was_given(client: aiohttp.ClientSession) -> None:
    async with client.get("/api/state") as answer:
        assert answer.status == 200
        assert answer.content_type == "application/json"
        assert answer.headers["Cache-Control"] == "no-store"
        assert answer.headers["Content-Encoding"] in ("gzip", "deflate")
        assert await answer.text() == line(state_json(STATION))


async def test_every_answer_is_hardened(client: aiohttp.ClientSession) -> None:
    for path in PAGES:
        async with client.get(path) as answer:
            policy = answer.headers["Content-Security-Policy"]
            assert policy.startswith("default-src 'self';")
            assert "unsafe" not in policy
            assert answer.headers["X-Content-Type-Options"] == "nosniff"
            assert answer.headers["X-Frame-Options"] == "DENY"
            assert answer.headers["Cross-Origin-Resource-Policy"] == "same-origin"
            assert "aiohttp" not in answer.headers.get("Server", "")


@pytest.mark.parametrize("host", ["localhost", "localhost:9999", "127.0.0.1:8080", "[::1]:8080"])
async def test_this_machine_under_any_port(client: aiohttp.ClientSession, host: str) -> None:
    async with client.get("/api/state", headers={"Host": host}) as answer:
        assert answer.status == 200


@pytest.mark.parametrize(
    "host",
    ["rebound.example", "rebound.example:8080", "127.0.0.1.rebound.example", "192.0.2.1", "::", ""],
)
async def test_another_name_is_refused_everywhere(client: aiohttp.ClientSession, host: str) -> None:
    """RFC 9110 section 15.5.20: 421 for an authority the server does not answer for."""
    for path in PAGES:
        async with client.get(path, headers={"Host": host}) as answer:
            assert answer.status == 421
            assert "kanalas" not in await answer.text()


@pytest.mark.parametrize(
    "head",
    [
        b"GET /api/state HTTP/1.0\r\n\r\n",
        b"GET /api/state HTTP/1.1\r\nHost: localhost\r\nHost: rebound.example\r\n\r\n",
    ],
)
async def test_no_host_or_two_are_refused(client: aiohttp.ClientSession, head: bytes) -> None:
    assert client._base_url is not None
    reader, writer = await asyncio.open_connection("127.0.0.1", client._base_url.port)
    writer.write(head)
    status = await reader.readline()
    writer.close()
    assert status.split()[1] in (b"400", b"421")


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS"])
async def test_reading_is_all_one_can_do(client: aiohttp.ClientSession, method: str) -> None:
    for path in ("/", "/api/state", "/healthz"):
        async with client.request(method, path, data=b"x") as answer:
            assert answer.status == 405
            assert answer.headers["Allow"] == "GET,HEAD"


async def test_a_file_known_already_is_not_sent_again(client: aiohttp.ClientSession) -> None:
    async with client.get("/static/page.css") as answer:
        assert answer.content_type == "text/css"
        etag = answer.headers["ETag"]
    async with client.get("/static/page.css", headers={"If-None-Match": etag}) as answer:
        assert answer.status == 304
        assert await answer.read() == b""


@pytest.mark.parametrize("name", ["shell.html", "../server.py", "%2e%2e%2fserver.py", "no.js"])
async def test_only_the_pages_own_files_are_served(
    client: aiohttp.ClientSession, name: str
) -> None:
    async with client.get(f"/static/{name}") as answer:
        assert answer.status == 404


async def test_the_whole_page_is_small_and_names_no_other_place() -> None:
    async with running() as address, aiohttp.ClientSession(base_url=address) as session:
        total = 0
        for path in ("/", *(f"/static/{name}" for name in FILES)):
            async with session.get(path) as answer:
                assert answer.status == 200
                body = await answer.text()
            if "leaflet" in path:
                continue
            total += len(body.encode())
            # The name of SVG's namespace is the only address, and never fetched.
            assert body.replace("http://www.w3.org/2000/svg", "").count("http://") == 0
    assert total < 120_000


OURS = (
    "page.js",
    "contact.js",
    "map.js",
    "charts.js",
    "search.js",
    "report.js",
    "crew.js",
    "tell.js",
    "login.js",
    "words.js",
)
FILES = ("page.css", "icon.svg", *OURS, "leaflet.js", "leaflet.css")


async def test_the_files_of_others_are_as_they_came() -> None:
    """SHA-256 as in vendor/README.md, of the packages of the npm registry named there."""
    folder = Path(server.__file__).parent / "vendor"
    told = dict(re.findall(r"([0-9a-f]{64})  (\S+)", (folder / "README.md").read_text()))
    told = {name: digest for digest, name in told.items()}
    files = {one.name for one in folder.iterdir()} - {"README.md"}
    assert set(told) == files
    for name in files:
        assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == told[name], name


async def test_names_in_the_shell_are_text() -> None:
    hostile = replace(STATION, station="<script>alert(1)</script>\"'&")
    async with (
        running(lambda: hostile) as address,
        aiohttp.request("GET", address) as answer,
    ):
        body = await answer.text()
    assert "<script>alert" not in body
    assert "&lt;script&gt;alert(1)&lt;/script&gt;&#34;&#39;&amp;" in body


async def test_a_station_that_cannot_tell_its_state_answers_500_and_goes_on() -> None:
    known: list[StationSnapshot] = []

    def snapshot() -> StationSnapshot:
        if not known:
            raise ValueError("not now")
        return known[0]

    async with running(snapshot) as address, aiohttp.ClientSession(base_url=address) as session:
        async with session.get("/api/state") as answer:
            assert answer.status == 500
            assert "not now" not in await answer.text()
            assert answer.headers["Cache-Control"] == "no-store"
        known.append(STATION)
        async with session.get("/api/state") as answer:
            assert answer.status == 200


async def test_it_stops_with_a_browser_connected_and_starts_on_the_same_port() -> None:
    async with aiohttp.ClientSession() as session:
        async with running() as address, session.get(address) as answer:
            assert answer.status == 200
        port = int(address.rstrip("/").rpartition(":")[2])
        async with running(port=port) as again:
            assert again == address


async def test_a_taken_port_names_the_setting() -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        with pytest.raises(ConfigurationError, match=rf"web\.port.*127\.0\.0\.1:{port} is in use"):
            await serve(WebSettings(port=port), lambda: STATION)


async def test_hundred_readers_at_once(client: aiohttp.ClientSession) -> None:
    async def ask() -> int:
        async with client.get("/api/state") as answer:
            await answer.read()
            return answer.status

    assert await asyncio.gather(*(ask() for _ in range(100))) == [200] * 100


async def test_scripts_are_asked_for_at_once(client: aiohttp.ClientSession) -> None:
    """On a poor network a script that is only found in another one costs a way and back."""
    async with client.get("/") as answer:
        asked = set(re.findall(r'<link rel="modulepreload" href="([^"]+)">', await answer.text()))
    needed, look = set[str](), ["/static/page.js"]
    while look:
        async with client.get(look.pop()) as answer:
            assert answer.status == 200
            found = {f"/static/{n}" for n in re.findall(r'from "\./(.+?)"', await answer.text())}
        look += found - needed
        needed |= found
    assert asked == needed
    assert "/static/map.js" in asked
