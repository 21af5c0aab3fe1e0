"""A real gpsd, with a receiver made of a pseudo-terminal that speaks NMEA 0183."""

import asyncio
import contextlib
import os
import shutil
import subprocess
from collections.abc import AsyncIterator, Iterator
from pathlib import Path
from typing import Any

import pytest

from groundstation.clock import SystemClock
from groundstation.decoders.build import build_decoder
from groundstation.errors import ConfigurationError, SourceError
from groundstation.records import Report
from groundstation.sources.gpsd import GpsdSettings, GpsdSource
from groundstation.sources.health import HealthRecorder
from groundstation.sources.supervisor import BackoffSettings, supervise
from tests.support.keeper import Keeper, until
from tests.support.mosquitto import free_port
from tests.support.pty_device import PtyDevice

pytestmark = pytest.mark.live


def sentence(body: str) -> bytes:
    """With its checksum: the exclusive or of what stands between $ and * (NMEA 0183)."""
    total = 0
    for byte in body.encode():
        total ^= byte
    return f"${body}*{total:02X}\r\n".encode()


def second(number: int) -> bytes:
    clock = f"0900{number % 60:02d}.00"
    minutes = f"{6.0 + number * 0.001:.4f}".zfill(7)
    return sentence(
        f"GPGGA,{clock},47{minutes},N,02018.0000,E,1,08,0.9,85.0,M,43.0,M,,"
    ) + sentence(f"GPRMC,{clock},A,47{minutes},N,02018.0000,E,010.0,090.0,160526,,,A")


@pytest.fixture
def daemon(tmp_path: Path) -> Iterator[tuple[int, PtyDevice]]:
    program = shutil.which("gpsd", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    if program is None:
        missing = "gpsd is not installed"
        if os.environ.get("CI"):
            pytest.fail(missing)
        pytest.skip(missing)
    device = PtyDevice(tmp_path / "receiver")
    device.plug_in()
    port = free_port()
    with subprocess.Popen(
        [program, "-N", "-n", "-S", str(port), os.path.realpath(device.link)],
        stderr=subprocess.DEVNULL,
    ) as process:
        yield port, device
        process.terminate()
    device.pull_out()


@contextlib.asynccontextmanager
async def talking(device: PtyDevice) -> AsyncIterator[None]:
    async def talk() -> None:
        number = 0
        while True:
            device.offer(second(number))
            number += 1
            await asyncio.sleep(0.1)

    task = asyncio.create_task(talk())
    yield
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)


def source(port: int, **changes: Any) -> GpsdSource:
    given: dict[str, Any] = {"name": "car", "tracker": "Q0HAB-9", "port": port}
    return GpsdSource(GpsdSettings(**(given | changes)), SystemClock())


async def test_positions_of_a_real_gpsd(daemon: tuple[int, PtyDevice]) -> None:
    port, device = daemon
    keeper = Keeper()
    health = HealthRecorder("car", "gpsd", SystemClock())

    async def keep_trying() -> None:
        while True:
            with contextlib.suppress(SourceError):
                await source(port, every_s=0.3).run(keeper, health)
            await asyncio.sleep(0.1)

    async with talking(device):
        task = asyncio.create_task(keep_trying())
        await until(lambda: len(keeper.frames) >= 3)
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
    decoder = build_decoder(GpsdSettings(name="car", tracker="Q0HAB-9").decoder)
    for frame in keeper.frames:
        (found,) = decoder.decode(frame.data, frame.received_utc)
        assert isinstance(found, Report), frame.data
        assert found.tracker == "Q0HAB-9"
        assert found.latitude_deg == pytest.approx(47.1, abs=0.01)
        assert found.longitude_deg == pytest.approx(20.3, abs=1e-6)
    # Ten a second are told, and about three of them taken.
    gaps = [
        b.received_utc - a.received_utc
        for a, b in zip(keeper.frames, keeper.frames[1:], strict=False)
    ]
    assert min(gaps) >= 0.25


async def test_nobody_there() -> None:
    health = HealthRecorder("car", "gpsd", SystemClock())
    with pytest.raises(SourceError, match="is it running"):
        await source(free_port()).run(Keeper(), health)
    with pytest.raises(ConfigurationError, match="tracker"):
        source(1, tracker=" ")
    with pytest.raises(ConfigurationError, match="port"):
        source(0)


async def test_a_recorded_log_played_by_gpsds_own_player(tmp_path: Path) -> None:
    """gpsfake feeds the log to a gpsd of its own, a sentence every 20 ms."""
    player = shutil.which("gpsfake")
    if player is None:
        missing = "gpsfake is not installed"
        if os.environ.get("CI"):
            pytest.fail(missing)
        pytest.skip(missing)
    log = tmp_path / "drive.nmea"
    await asyncio.to_thread(log.write_bytes, b"".join(second(n) for n in range(60)))
    port = free_port()
    playing = await asyncio.create_subprocess_exec(
        player, "-1", "-q", "-c", "0.02", "-P", str(port), str(log),
        stdout=asyncio.subprocess.DEVNULL, stderr=asyncio.subprocess.DEVNULL,
        env={**os.environ, "PATH": f"{os.environ.get('PATH', '')}:/usr/sbin"},
    )  # fmt: skip
    keeper = Keeper()
    settings = GpsdSettings(name="car", tracker="Q0HAB-9", port=port, every_s=0.0)
    health = HealthRecorder("car", "gpsd", SystemClock())
    source = GpsdSource(settings, SystemClock())
    backoff = BackoffSettings(first_s=0.05, most_s=0.2)
    running = asyncio.create_task(supervise(source, keeper, health, backoff))
    try:
        await until(lambda: len(keeper.frames) >= 20)
    finally:
        running.cancel()
        playing.terminate()
        await asyncio.gather(running, playing.wait(), return_exceptions=True)
    decoder = build_decoder(settings.decoder)
    heard = [
        one
        for frame in keeper.frames
        for one in decoder.decode(frame.data, frame.received_utc)
        if isinstance(one, Report)
    ]
    north = [one.latitude_deg for one in heard]
    assert north == sorted(north)
    # The log drives north by a thousandth of a minute a second, from 47 degrees 6 minutes on.
    for one in heard:
        steps = (one.latitude_deg - 47.1) * 60.0 / 0.001
        assert steps == pytest.approx(round(steps), abs=0.05)
        assert one.longitude_deg == pytest.approx(20.3, abs=1e-5)
