"""Who comes in, tried from outside over real HTTP and TLS."""

import asyncio
import ssl
import subprocess
import tomllib
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import aiohttp
import pytest

from groundstation import httpd
from groundstation.web import door
from groundstation.web.door import COOKIE, WRONG_AT_MOST, Door, new_token
from groundstation.web.server import serve
from groundstation.web.settings import AccessSettings, Role, WebSettings
from tests.support.typed import typed
from tests.support.web_scenario import STATION

TOKEN, HASHED = new_token()
ACCESS = (AccessSettings(name="phone", token_hash=HASHED),)


@asynccontextmanager
async def running(**changes: Any) -> AsyncIterator[str]:
    ready: asyncio.Future[str] = asyncio.get_running_loop().create_future()
    given: dict[str, Any] = {"port": 0, "access": ACCESS}
    settings = WebSettings(**(given | changes))
    task = asyncio.create_task(serve(settings, lambda: STATION, ready=ready.set_result))
    try:
        yield await ready
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


@asynccontextmanager
async def client(address: str, **more: Any) -> AsyncIterator[aiohttp.ClientSession]:
    jar = aiohttp.CookieJar(unsafe=True)
    async with aiohttp.ClientSession(base_url=address, cookie_jar=jar, **more) as session:
        yield session


async def test_a_stranger_sees_nothing() -> None:
    async with running() as address, client(address) as session:
        for path in ("/api/state", "/api/health", "/metrics", "/missing"):
            async with session.get(path) as answer:
                assert answer.status == 401
                assert answer.headers["WWW-Authenticate"] == "Bearer"
                assert STATION.station not in await answer.text()
        async with session.get("/") as answer:
            assert answer.url.path == "/login"
            policy = answer.headers["Content-Security-Policy"]
            assert "form-action 'self'" in policy
            assert "unsafe" not in policy
        async with session.get("/healthz") as answer:
            assert answer.status == 200


async def test_a_token_in_the_header() -> None:
    async with running() as address, client(address) as session:
        for token, status in ((TOKEN, 200), (TOKEN[:-1], 401), ("", 401), (HASHED, 401)):
            headers = {"Authorization": f"Bearer {token}"}
            async with session.get("/api/state", headers=headers) as answer:
                assert answer.status == status


async def test_a_login_lasts_until_it_is_ended() -> None:
    async with running() as address, client(address) as session:
        async with session.post("/login", data={"token": "wrong"}) as answer:
            assert answer.status == 401
            assert "not known here" in await answer.text()
        async with session.post("/login", data={"token": f" {TOKEN}\n"}) as answer:
            assert answer.url.path == "/"
            assert answer.status == 200
        [cookie] = [one for one in session.cookie_jar if one.key == COOKIE]
        assert cookie["httponly"]
        assert cookie["samesite"] == "Strict"
        assert TOKEN not in cookie.value
        async with session.get("/api/state") as answer:
            assert answer.status == 200
        async with session.post("/logout") as answer:
            assert answer.url.path == "/login"
        session.cookie_jar.update_cookies({COOKIE: cookie.value}, answer.url)
        async with session.get("/api/state") as answer:
            assert answer.status == 401


@pytest.mark.slow
async def test_ten_thousand_guesses_get_nobody_in(monkeypatch: pytest.MonkeyPatch) -> None:
    """After a few, an address is not even listened to; somebody who is in stays in."""
    # On a slow machine they take longer than the minute over which wrong ones are counted.
    monkeypatch.setattr(door, "WRONG_OVER_S", 86_400.0)
    async with running() as address, client(address) as known, client(address) as guesser:
        async with known.post("/login", data={"token": TOKEN}) as answer:
            assert answer.status == 200
        seen: dict[int, int] = {}
        for number in range(10_000):
            headers = {"Authorization": f"Bearer guess-{number}"}
            async with guesser.get("/api/state", headers=headers) as answer:
                seen[answer.status] = seen.get(answer.status, 0) + 1
        assert seen == {401: WRONG_AT_MOST, 429: 10_000 - WRONG_AT_MOST}
        async with known.get("/api/state") as answer:
            assert answer.status == 200


@pytest.mark.parametrize(
    "headers", [{"Origin": "https://evil.example"}, {"Sec-Fetch-Site": "cross-site"}]
)
async def test_another_site_cannot_log_somebody_in(headers: dict[str, str]) -> None:
    async with running() as address, client(address) as session:
        async with session.post("/login", data={"token": TOKEN}, headers=headers) as answer:
            assert answer.status == 403
        assert len(session.cookie_jar) == 0


async def test_on_this_machine_nobody_is_asked() -> None:
    async with (
        running(access=()) as address,
        client(address) as session,
        session.get("/api/state") as answer,
    ):
        assert answer.status == 200


@pytest.fixture
def pair(tmp_path: Path) -> tuple[Path, Path]:
    """A certificate for this machine, which is also the authority to trust, and its key."""
    certificate, key = tmp_path / "station.pem", tmp_path / "key.pem"
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2",
         "-subj", "/CN=127.0.0.1", "-addext", "subjectAltName=IP:127.0.0.1",
         "-out", str(certificate), "-keyout", str(key)],
        check=True, capture_output=True,
    )  # fmt: skip
    return certificate, key


async def test_over_tls(pair: tuple[Path, Path]) -> None:
    certificate, key = pair
    trust = ssl.create_default_context(cafile=str(certificate))
    async with running(certificate=certificate, key=key) as address:
        assert address.startswith("https://")
        async with client(address) as session:
            data = {"token": TOKEN}
            async with session.post("/login", data=data, ssl=trust) as answer:
                assert answer.status == 200
            [cookie] = [one for one in session.cookie_jar if one.key == COOKIE]
            assert cookie["secure"]


def test_the_command_makes_lines_that_let_in() -> None:
    done = typed("token", "--name", 'the "car"', "--role", "look")
    assert done.returncode == 0
    [entry] = tomllib.loads(done.stdout)["web"]["access"]
    assert entry["name"] == 'the "car"'
    secret = done.stderr.split("(shown once): ")[1].split("\n")[0]
    settings = AccessSettings(
        name=entry["name"], token_hash=entry["token_hash"], role=Role(entry["role"])
    )
    assert secret not in done.stdout
    found = Door((settings,), lambda: 0.0).of_token(secret, "x")
    assert found is not None
    assert (found.name, found.role) == ('the "car"', Role.LOOK)


async def test_a_right_token_passes_however_often_others_were_wrong() -> None:
    """Behind a proxy all share one address: a stranger must not keep the owner out."""
    async with running() as address, client(address) as session:
        for _ in range(WRONG_AT_MOST + 5):
            async with session.get("/api/health", headers={"Authorization": "Bearer no"}) as got:
                assert got.status in (401, 429)
        assert got.status == 429
        async with session.get("/api/health", headers={"Authorization": f"Bearer {TOKEN}"}) as got:
            assert got.status == 200
        async with session.post("/login", data={"token": TOKEN}) as got:
            assert got.url.path == "/"


async def test_a_crowd_of_idle_connections_keeps_nobody_out() -> None:
    async with running() as address:
        host, port = address.removeprefix("http://").rstrip("/").split(":")
        crowd = [
            await asyncio.open_connection(host, int(port))
            for _ in range(httpd.MOST_CONNECTIONS + 10)
        ]
        async with client(address) as session, session.get("/healthz") as got:
            assert got.status == 200
        for _, writer in crowd:
            writer.close()
