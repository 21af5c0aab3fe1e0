"""The TCP source against a real server on loopback."""

import asyncio
import contextlib
import ssl
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import Any

import pytest

from groundstation.clock import SystemClock
from groundstation.decoders.aprs.settings import AprsFraming, AprsSettings
from groundstation.errors import ConfigurationError, SourceError
from groundstation.sources.health import HealthRecorder, SourceState
from groundstation.sources.supervisor import BackoffSettings, supervise
from groundstation.sources.tcp_lines import AprsIsLogin, TcpSettings, TcpSource
from tests.support.keeper import Keeper, until
from tests.support.leap import Leap
from tests.support.line_server import LineServer
from tests.support.mosquitto import free_port, make_certificate

PACKET = b"Q0HAB-11>APZKAN:!4706.00N/02018.00EO/A=000279"


@pytest.fixture
async def server() -> AsyncIterator[LineServer]:
    async with LineServer() as running:
        yield running


def settings(port: int, **changes: Any) -> TcpSettings:
    given: dict[str, Any] = {
        "name": "line",
        "host": "127.0.0.1",
        "port": port,
        "decoder": AprsSettings(),
    }
    return TcpSettings(**(given | changes))


def recorder() -> HealthRecorder:
    return HealthRecorder("line", "tcp", SystemClock())


@contextlib.asynccontextmanager
async def running(
    chosen: TcpSettings, keeper: Keeper, health: HealthRecorder | None = None
) -> AsyncIterator[asyncio.Task[None]]:
    task = asyncio.create_task(TcpSource(chosen, SystemClock()).run(keeper, health or recorder()))
    try:
        yield task
    finally:
        task.cancel()
        with contextlib.suppress(asyncio.CancelledError, SourceError):
            await task


async def test_lines_come_whole_however_they_are_cut(server: LineServer) -> None:
    keeper, health = Keeper(), recorder()
    async with running(settings(server.port), keeper, health):
        await server.connected()
        for piece in (PACKET[:7], PACKET[7:] + b"\r", b"\n# a comment\n", PACKET + b"\r\n"):
            await server.send(piece)
            await asyncio.sleep(0.01)
        await until(lambda: len(keeper.frames) == 3)
    assert [frame.data for frame in keeper.frames] == [PACKET, b"# a comment", PACKET]
    assert {frame.source for frame in keeper.frames} == {"line"}
    assert health.snapshot().frames == 3


async def test_what_stands_at_the_end_is_not_lost(server: LineServer) -> None:
    keeper = Keeper()
    async with running(settings(server.port), keeper) as task:
        await server.connected()
        await server.send(PACKET)
        server.hang_up()
        with pytest.raises(SourceError, match="closed the connection"):
            await task
    assert [frame.data for frame in keeper.frames] == [PACKET]


async def test_login_asks_to_listen_only(server: LineServer) -> None:
    """The user line of APRS-IS: pass code -1 for who does not send (APRS-IS, "Connecting")."""
    login = AprsIsLogin(callsign="Q0HAB", filter="b/Q0HAB-11")
    async with running(settings(server.port, login=login), Keeper()):
        await until(lambda: b"\n" in server.got)
    assert server.got.startswith(b"user Q0HAB pass -1 vers groundstation ")
    assert server.got.endswith(b" filter b/Q0HAB-11\r\n")


async def test_kiss_over_tcp(server: LineServer) -> None:
    keeper = Keeper()
    kiss = settings(server.port, decoder=AprsSettings(framing=AprsFraming.AX25))
    async with running(kiss, keeper):
        await server.connected()
        await server.send(b"\xc0\x00one\xc0\xc0\x00t\xdb\xdcwo\xc0")
        await until(lambda: len(keeper.frames) == 2)
    assert [frame.data for frame in keeper.frames] == [b"\x00one", b"\x00t\xc0wo"]


async def test_comments_keep_the_connection_and_silence_ends_it(server: LineServer) -> None:
    leap, keeper, health = Leap(), Keeper(), recorder()
    async with running(settings(server.port, silence_s=600.0), keeper, health) as task:
        await server.connected()
        await until(lambda: health.is_open)
        # For longer than it bears silence.
        for number in range(1, 4):
            leap.by(400.0)
            await server.send(b"# still here\r\n")
            await until(lambda wanted=number: len(keeper.frames) == wanted or task.done())  # type: ignore[misc]
        assert not task.done()
        leap.by(601.0)
        with pytest.raises(SourceError, match="was silent for 600 s"):
            await task


async def test_what_came_while_the_machine_stood_still_is_no_silence(server: LineServer) -> None:
    """It lies in the socket's buffer, while the limit has passed as well."""
    leap, keeper, health = Leap(), Keeper(), recorder()
    async with running(settings(server.port, silence_s=600.0), keeper, health) as task:
        await server.connected()
        await until(lambda: health.is_open)
        await server.send(PACKET + b"\r\n")
        leap.by(601.0)
        await until(lambda: bool(keeper.frames) or task.done())
        assert [frame.data for frame in keeper.frames] == [PACKET]
        assert not task.done()


async def test_a_full_pipeline_is_waited_for(server: LineServer) -> None:
    gate = asyncio.Event()
    keeper = Keeper(gate=gate)
    async with running(settings(server.port), keeper):
        await server.connected()
        await server.send(b"".join(b"%d\n" % number for number in range(1000)))
        await until(lambda: bool(keeper.frames))
        await asyncio.sleep(0.2)
        assert len(keeper.frames) == 1
        gate.set()
        await until(lambda: len(keeper.frames) == 1000)
    assert keeper.texts == [f"{number}" for number in range(1000)]


async def test_the_supervisor_comes_back_and_says_so() -> None:
    port = free_port()
    keeper, health = Keeper(), recorder()
    backoff = BackoffSettings(first_s=0.05, most_s=0.2)
    task = asyncio.create_task(
        supervise(TcpSource(settings(port), SystemClock()), keeper, health, backoff)
    )

    def state_is(wanted: SourceState) -> Callable[[], bool]:
        return lambda: health.snapshot().state is wanted

    await until(state_is(SourceState.RETRYING))
    down = health.snapshot()
    assert f"127.0.0.1:{port} can't be reached" in down.last_error
    assert down.next_try_s is not None
    for line in (b"one\n", b"two\n"):
        async with LineServer(port) as server:
            await server.connected()
            await until(state_is(SourceState.RECEIVING))
            await server.send(line)
            await until(lambda wanted=line: keeper.texts[-1:] == [wanted.decode().strip()])  # type: ignore[misc]
        await until(state_is(SourceState.RETRYING))
    assert health.snapshot().failures >= 3
    assert health.snapshot().frames == 2
    task.cancel()
    with contextlib.suppress(asyncio.CancelledError):
        await task


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"host": ""}, "host"),
        ({"port": 70_000}, "port"),
        ({"silence_s": 0.0}, "silence_s"),
        ({"login": AprsIsLogin(callsign="Q0 HAB")}, "not a callsign"),
        ({"login": AprsIsLogin(callsign="Q0HAB", filter="b/X\r\nuser")}, "no filter has"),
    ],
)
def test_settings_that_cannot_work(changes: dict[str, Any], says: str) -> None:
    with pytest.raises(ConfigurationError, match=says):
        TcpSource(settings(**({"port": 1} | changes)), SystemClock())


async def test_a_server_with_tls(tmp_path: Path) -> None:
    certificate, key = tmp_path / "certificate.pem", tmp_path / "key.pem"
    make_certificate(certificate, key)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate, key)

    async def client(_: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writer.write(PACKET + b"\r\n")
        await writer.drain()

    async with await asyncio.start_server(client, "127.0.0.1", 0, ssl=context) as secure:
        port = secure.sockets[0].getsockname()[1]
        keeper = Keeper()
        async with running(settings(port, tls=True, ca_file=certificate), keeper):
            await until(lambda: bool(keeper.frames))
        assert keeper.frames[0].data == PACKET
        with pytest.raises(SourceError, match="not trusted here"):
            await TcpSource(settings(port, tls=True), SystemClock()).run(keeper, recorder())
        missing = settings(port, tls=True, ca_file=tmp_path / "absent.pem")
        with pytest.raises(SourceError, match=r"absent\.pem is not there"):
            await TcpSource(missing, SystemClock()).run(keeper, recorder())


async def test_a_plain_port_taken_for_one_with_tls_is_told() -> None:
    async def client(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await reader.read(10)
        writer.write(b"# this is no handshake\r\n")
        await writer.drain()

    async with await asyncio.start_server(client, "127.0.0.1", 0) as plain:
        port = plain.sockets[0].getsockname()[1]
        with pytest.raises(SourceError, match="set tls = false"):
            await TcpSource(settings(port, tls=True), SystemClock()).run(Keeper(), recorder())
