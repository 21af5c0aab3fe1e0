"""Sources that this machine serves itself: UDP, a listening port, a program, a file that grows."""

import asyncio
import contextlib
import os
import socket
import struct
import sys
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest

from groundstation.clock import SystemClock
from groundstation.decoders.aprs.settings import AprsFraming, AprsSettings
from groundstation.decoders.binary import BinarySettings
from groundstation.decoders.byte_layout import PackedField
from groundstation.decoders.json_map import JsonSettings
from groundstation.errors import ConfigurationError, SourceError
from groundstation.sources import growing_file
from groundstation.sources.build import SourceSettings, build_source
from groundstation.sources.command import CommandSettings
from groundstation.sources.growing_file import FileSettings
from groundstation.sources.health import HealthRecorder
from groundstation.sources.supervisor import BackoffSettings, supervise
from groundstation.sources.tcp_listen import TcpListenSettings
from groundstation.sources.udp import UdpSettings
from tests.support.keeper import Keeper, until
from tests.support.mosquitto import free_port

PACKET = b"Q0HAB-11>APZ001:!4706.00N/02018.00EO"
LINES, KISS = AprsSettings(), AprsSettings(framing=AprsFraming.AX25)
SOON = BackoffSettings(first_s=0.02, most_s=0.05)


@contextlib.asynccontextmanager
async def running(
    settings: SourceSettings, keeper: Keeper, *, again: bool = False
) -> AsyncIterator[tuple[HealthRecorder, asyncio.Task[None]]]:
    health = HealthRecorder(settings.name, settings.kind, SystemClock())
    source = build_source(settings, SystemClock())
    work = supervise(source, keeper, health, SOON) if again else source.run(keeper, health)
    task = asyncio.ensure_future(work)
    try:
        await until(lambda: health.is_open or task.done() or again)
        yield health, task
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


def sent(port: int, *datagrams: bytes) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
        for one in datagrams:
            out.sendto(one, ("127.0.0.1", port))


async def test_datagrams_with_lines_kiss_json_and_bytes() -> None:
    layout = (
        PackedField(name="lat", type="i32", at=0, scale=1e-7),
        PackedField(name="lon", type="i32", at=4, scale=1e-7),
    )
    body = struct.pack(">ii", 471_000_000, 203_000_000)
    for decoder, datagram, expected in (
        (LINES, PACKET + b"\r\n" + PACKET, [PACKET, PACKET]),
        (KISS, b"\xc0\x00one\xc0\xc0\x00two\xc0", [b"\x00one", b"\x00two"]),
        (JsonSettings(), b'{\n"lat": 1}', [b'{\n"lat": 1}']),
        (BinarySettings(layout=layout, tracker="x"), body, [body]),
    ):  # fmt: skip
        keeper = Keeper()
        settings = UdpSettings(name="udp", port=free_port(), decoder=decoder)
        async with running(settings, keeper):
            sent(settings.port, b"", datagram)
            await until(lambda now=keeper, all_=expected: len(now.frames) >= len(all_))  # type: ignore[misc]
        assert [frame.data for frame in keeper.frames] == expected
        assert keeper.frames[0].receiver == "127.0.0.1"


async def test_only_the_named_senders_are_listened_to() -> None:
    keeper = Keeper()
    settings = UdpSettings(name="udp", port=free_port(), decoder=LINES, senders=("127.0.0.2",))
    async with running(settings, keeper):
        sent(settings.port, PACKET)
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other:
            other.bind(("127.0.0.2", 0))
            other.sendto(b"known", ("127.0.0.1", settings.port))
        await until(lambda: bool(keeper.frames))
    assert [frame.data for frame in keeper.frames] == [b"known"]


async def test_a_port_that_another_program_has_is_said() -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as taken:
        taken.bind(("127.0.0.1", 0))
        settings = UdpSettings(name="udp", port=taken.getsockname()[1], decoder=LINES)
        with pytest.raises(SourceError, match="another program may have the port"):
            async with running(settings, Keeper()) as (_, task):
                await task


async def test_programs_that_connect_are_read_side_by_side() -> None:
    keeper = Keeper()
    settings = TcpListenSettings(name="in", port=free_port(), decoder=LINES)
    async with running(settings, keeper):
        first = await asyncio.open_connection("127.0.0.1", settings.port)
        second = await asyncio.open_connection("127.0.0.1", settings.port)
        first[1].write(b"one, beg")
        second[1].write(b"two\r\n")
        await until(lambda: len(keeper.frames) == 1)
        first[1].write(b"un\n")
        second[1].write(b"last without an end")
        second[1].close()
        await until(lambda: len(keeper.frames) == 3)
        first[1].close()
    assert sorted(keeper.texts) == ["last without an end", "one, begun", "two"]


def test_a_port_for_everybody_wants_the_senders_named() -> None:
    open_to_all: dict[str, Any] = {"name": "in", "port": 1, "decoder": LINES, "host": "0.0.0.0"}
    with pytest.raises(ConfigurationError, match="senders"):
        build_source(TcpListenSettings(**open_to_all), SystemClock())
    build_source(TcpListenSettings(**open_to_all, senders=("192.0.2.1",)), SystemClock())


async def test_what_a_program_writes_is_read_and_it_is_started_again() -> None:
    keeper = Keeper()
    script = "import sys; print('one'); print('two'); sys.exit('a receiver is missing')"
    command = CommandSettings(name="run", command=(sys.executable, "-c", script), decoder=LINES)
    async with running(command, keeper, again=True) as (health, _):
        await until(lambda: len(keeper.frames) >= 4)
        await until(lambda: health.snapshot().failures >= 2)
        assert "ended with 1: a receiver is missing" in health.snapshot().last_error
    assert keeper.texts[:4] == ["one", "two", "one", "two"]


@pytest.mark.live
async def test_a_program_ends_with_all_that_it_started(tmp_path: Path) -> None:
    keeper, noted = Keeper(), tmp_path / "pid"
    script = f"trap '' TERM; sh -c 'echo $$ > {noted}; exec sleep 600' & echo begun; wait"
    command = CommandSettings(name="run", command=("sh", "-c", script), decoder=LINES)
    async with running(command, keeper):
        await until(lambda: bool(keeper.frames) and noted.exists() and bool(noted.read_text()))
        pid = int(noted.read_text())
        os.kill(pid, 0)

    def gone() -> bool:
        try:
            # A process that nobody has asked about yet is a zombie, and done.
            state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
        except FileNotFoundError:
            return True
        return state == "Z"

    await until(gone)


async def test_standard_error_without_end_stops_nothing() -> None:
    keeper = Keeper()
    script = "import sys; sys.stderr.write('x' * 300000); sys.stderr.flush(); print('after')"
    command = CommandSettings(name="run", command=(sys.executable, "-c", script), decoder=LINES)
    async with running(command, keeper, again=True):
        await until(lambda: bool(keeper.frames))
    assert keeper.texts[0] == "after"


async def test_a_program_that_is_not_there_is_said() -> None:
    command = CommandSettings(name="run", command=("no-such-program-here",), decoder=LINES)
    with pytest.raises(SourceError, match="install it"):
        async with running(command, Keeper()) as (_, task):
            await task


async def test_a_file_that_grows_and_is_rotated(tmp_path: Path) -> None:
    path, keeper = tmp_path / "heard.log", Keeper()
    path.write_text("old\n")
    async with running(FileSettings(name="log", path=path, decoder=LINES), keeper) as (_, task):
        with path.open("a") as file:
            file.write("one\ntw")
            file.flush()
            await until(lambda: len(keeper.frames) == 1)
            file.write("o\n")
            file.flush()
            await until(lambda: len(keeper.frames) == 2)
            path.rename(tmp_path / "heard.log.1")
            file.write("three, to the old one\nfour without an e")
        path.write_text("five, in a new one\nsi")
        await until(lambda: len(keeper.frames) == 5)
        path.write_text("7\n")
        await until(lambda: len(keeper.frames) == 7)
        assert not task.done()
    assert keeper.texts == [
        "one", "two", "three, to the old one", "four without an e", "five, in a new one", "si", "7",
    ]  # fmt: skip


async def test_a_file_is_read_from_its_begin_where_that_is_wanted(tmp_path: Path) -> None:
    path, keeper = tmp_path / "heard.log", Keeper()
    path.write_text("old\n")
    settings = FileSettings(name="log", path=path, decoder=LINES, from_begin=True)
    async with running(settings, keeper):
        await until(lambda: keeper.texts == ["old"])


async def test_a_file_that_is_not_there_is_said_and_read_as_a_whole_once_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(growing_file, "GONE_S", 0.3)
    path, keeper = tmp_path / "heard.log", Keeper()
    settings = FileSettings(name="log", path=path, decoder=LINES)
    async with running(settings, keeper, again=True) as (health, _):
        await until(lambda: "does the program that writes it run" in health.snapshot().last_error)
        path.write_text("first\n")
        await until(lambda: keeper.texts == ["first"])


@pytest.mark.parametrize(
    "settings",
    [
        UdpSettings(name="u", port=70_000, decoder=LINES),
        UdpSettings(name="u", port=1, decoder=LINES, host=""),
        TcpListenSettings(name="u", port=70_000, decoder=LINES),
        CommandSettings(name="u", command=(), decoder=LINES),
    ],
)
def test_settings_that_cannot_work(settings: SourceSettings) -> None:
    with pytest.raises(ConfigurationError):
        build_source(settings, SystemClock())
