"""The whole station attacked over its sockets: what is tried, and what must happen."""

import asyncio
import contextlib
import json
import os
import socket
import sys
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from pathlib import Path

import aiohttp
import pytest
import pytest_asyncio

from groundstation import httpd
from groundstation.store.reader import Reader
from groundstation.web.door import new_token
from tests.support.keeper import WAIT_S
from tests.support.mosquitto import free_port

TOKEN, HASHED = new_token()
SECRET = "a-secret-of-the-sender-8811"
CONFIGURATION = """
[station]
name = "base"
data_dir = "{folder}/data"
[[payload]]
name = "kanalas-1"
[[payload.tracker]]
id = "Q0HAB-11"
[[source]]
name = "hook"
kind = "http-push"
host = "0.0.0.0"
port = {push}
token = {{ env = "PUSH_TOKEN" }}
[source.decoder]
kind = "json"
[web]
host = "0.0.0.0"
port = {page}
plain_http = true
[[web.access]]
name = "phone"
token_hash = "{hashed}"
"""

pytestmark = [
    pytest.mark.live,
    pytest.mark.slow,
    pytest.mark.asyncio(loop_scope="module"),
    pytest.mark.timeout(600),
]


@dataclass
class Attacked:
    """A station in a process of its own, open to the network."""

    folder: Path
    push: int
    page: int
    process: asyncio.subprocess.Process
    posted: list[dict[str, object]] = field(default_factory=list)

    @property
    def log(self) -> str:
        return (self.folder / "log").read_text(errors="replace")

    async def works(self) -> None:
        """A good position is still taken, and whoever may still sees the page."""
        told = {"tracker": "Q0HAB-11", "lat": 47.1, "lon": 20.3, "alt_m": 100 + len(self.posted)}
        self.posted.append(told)
        async with aiohttp.ClientSession() as client:
            async with client.post(
                f"http://127.0.0.1:{self.push}/", json=told, headers=bearer(SECRET)
            ) as answer:
                assert answer.status == 200, await answer.text()
            async with client.get(
                f"http://127.0.0.1:{self.page}/api/state", headers=bearer(TOKEN)
            ) as answer:
                assert answer.status == 200
        assert self.process.returncode is None


def open_files(pid: int) -> int:
    return len(list(Path(f"/proc/{pid}/fd").iterdir()))


def bearer(token: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {token}"}


@pytest_asyncio.fixture(scope="module", loop_scope="module")
async def station(tmp_path_factory: pytest.TempPathFactory) -> AsyncIterator[Attacked]:
    folder = tmp_path_factory.mktemp("attacked")
    push, page = free_port(), free_port()
    (folder / "station.toml").write_text(
        CONFIGURATION.format(folder=folder, push=push, page=page, hashed=HASHED)
    )
    with (folder / "log").open("wb") as log:
        process = await asyncio.create_subprocess_exec(
            sys.executable, "-m", "groundstation", "run", "--config", str(folder / "station.toml"),
            stderr=log, stdout=log, env={**os.environ, "PUSH_TOKEN": SECRET},
        )  # fmt: skip
    made = Attacked(folder, push, page, process)
    async with asyncio.timeout(WAIT_S):
        while True:
            with contextlib.suppress(aiohttp.ClientError, OSError):
                await made.works()
                break
            await asyncio.sleep(0.1)
    yield made
    process.kill()
    await process.wait()


async def test_without_a_token_nothing_is_told(station: Attacked) -> None:
    async with aiohttp.ClientSession() as client:
        for path in ("/api/state", "/api/health", "/metrics", "/api/acknowledge", "/static/../x"):
            async with client.get(f"http://127.0.0.1:{station.page}{path}") as answer:
                assert answer.status in (401, 404)
        async with client.post(f"http://127.0.0.1:{station.push}/", json={}) as answer:
            assert answer.status == 401
    await station.works()


@pytest.mark.parametrize(
    "path",
    [
        "/static/..%2f..%2fpyproject.toml",
        "/static/%2e%2e/%2e%2e/etc/passwd",
        "/static/....//etc/passwd",
        "/static//etc/passwd",
        "/static/page.js%00.css",
    ],
)
async def test_no_way_out_of_the_folder(station: Attacked, path: str) -> None:
    reader, writer = await asyncio.open_connection("127.0.0.1", station.page)
    writer.write(
        f"GET {path} HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {TOKEN}\r\n"
        "Connection: close\r\n\r\n".encode()
    )
    answer = await reader.read()
    writer.close()
    assert answer.split()[1] in (b"404", b"400"), answer[:200]
    assert b"root:" not in answer


async def test_too_large_and_too_deep(station: Attacked) -> None:
    async with aiohttp.ClientSession(headers=bearer(SECRET)) as client:
        url = f"http://127.0.0.1:{station.push}/"
        async with client.post(url, data=b"x" * 5_000_000) as answer:
            assert answer.status == 413
        async with client.post(url, data=b"[" * 60_000) as answer:
            assert answer.status == 202
        async with client.post(url, headers={"X-Big": "y" * 100_000}) as answer:
            assert answer.status in (400, 431)
    await station.works()


async def test_slow_senders_are_hung_up_on(station: Attacked) -> None:
    """Half a head, and half a body: neither waits for ever."""
    head = f"POST / HTTP/1.1\r\nHost: x\r\n{'Authorization: Bearer ' + SECRET}\r\n"
    halves = [head, f"{head}Content-Length: 50\r\n\r\n{{"]
    lines = []
    for half in halves:
        line = await asyncio.open_connection("127.0.0.1", station.push)
        line[1].write(half.encode())
        lines.append(line)
    await station.works()
    for reader, writer in lines:
        await reader.read()  # to the end of the connection, which only the station ends
        writer.close()
    await station.works()


async def test_a_crowd_of_idle_connections_is_bounded(station: Attacked) -> None:
    lines = []
    for _ in range(httpd.MOST_CONNECTIONS + 100):
        with contextlib.suppress(OSError):
            lines.append(socket.create_connection(("127.0.0.1", station.page), timeout=10.0))
    await asyncio.sleep(0.5)
    files = await asyncio.to_thread(open_files, station.process.pid)
    assert files < httpd.MOST_CONNECTIONS + 60
    for line in lines:
        line.close()
    async with asyncio.timeout(WAIT_S):
        while True:  # it takes nobody in before it has seen that they are gone
            with contextlib.suppress(aiohttp.ClientError, OSError):
                await station.works()
                break
            await asyncio.sleep(1.0)


async def test_the_page_runs_only_what_is_its_own(station: Attacked) -> None:
    async with (
        aiohttp.ClientSession() as client,
        client.get(f"http://127.0.0.1:{station.page}/", headers=bearer(TOKEN)) as answer,
    ):
        policy = dict(
            one.strip().split(" ", 1)
            for one in answer.headers["Content-Security-Policy"].split(";")
            if " " in one.strip()
        )
    assert policy.get("script-src", policy["default-src"]) == "'self'"


async def test_strangers_never_become_the_payload_and_replays_count_once(
    station: Attacked,
) -> None:
    async with aiohttp.ClientSession(headers=bearer(SECRET)) as client:
        url = f"http://127.0.0.1:{station.push}/"
        for told in (
            {"tracker": "Q9HAB-1", "lat": 10.0, "lon": 10.0, "alt_m": 30_000},
            {"tracker": "Q0HAB-11", "lat": -33.0, "lon": 151.0, "alt_m": 30_000},
            *station.posted[-3:],
        ):
            async with client.post(url, json=told) as answer:
                assert answer.status == 200
        await station.works()
        async with client.get(
            f"http://127.0.0.1:{station.page}/api/state", headers=bearer(TOKEN)
        ) as answer:
            state = json.loads(await answer.text())
    [payload] = state["payloads"]
    assert (payload["last"]["lat"], payload["last"]["lon"]) == (47.1, 20.3)
    refused = state["counts"]["rejected"]
    assert refused["unknown-tracker"] >= 1
    assert refused["jump"] >= 1
    assert refused["duplicate"] >= 1


async def test_no_secret_is_ever_told(station: Attacked) -> None:
    async with aiohttp.ClientSession(headers=bearer(TOKEN)) as client:
        for path in ("/", "/api/state", "/api/health", "/metrics"):
            async with client.get(f"http://127.0.0.1:{station.page}{path}") as answer:
                text = await answer.text()
            for secret in (SECRET, TOKEN, HASHED):
                assert secret not in text
    for secret in (SECRET, TOKEN, HASHED):
        assert secret not in station.log
    assert "Traceback" not in station.log
    with Reader(station.folder / "data" / "station.db") as reader:
        assert not any(SECRET.encode() in frame.data for _, frame in reader.frames())
