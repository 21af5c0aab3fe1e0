"""The serial source on a real pseudo-terminal.

What a pseudo-terminal can't show: the baud rate, a USB device that comes back as another one, and
another program that grabs the port.
"""

import asyncio
import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from groundstation.clock import SystemClock
from groundstation.decoders.aprs.settings import AprsFraming, AprsSettings
from groundstation.errors import ConfigurationError, SourceError
from groundstation.sources.health import HealthRecorder, SourceState
from groundstation.sources.serial_port import SerialSettings, SerialSource
from groundstation.sources.supervisor import BackoffSettings, supervise
from tests.support.keeper import Keeper, until
from tests.support.pty_device import PtyDevice


@pytest.fixture
def device(tmp_path: Path) -> Iterator[PtyDevice]:
    found = PtyDevice(tmp_path / "usb-receiver-0001")
    found.plug_in()
    yield found
    found.pull_out()


def source(port: str, *, kiss: bool = False) -> SerialSource:
    framing = AprsFraming.AX25 if kiss else AprsFraming.TNC2
    settings = SerialSettings(name="radio", port=port, decoder=AprsSettings(framing=framing))
    return SerialSource(settings, SystemClock())


def recorder() -> HealthRecorder:
    return HealthRecorder("radio", "serial", SystemClock())


async def test_lines_and_kiss(device: PtyDevice) -> None:
    for kiss, sent, expected in (
        (False, b"one\r\ntwo\n", [b"one", b"two"]),
        (True, b"\xc0\x00on\xdb\xddne\xc0\xc0\x00two\xc0", [b"\x00on\xdbne", b"\x00two"]),
    ):
        keeper, health = Keeper(), recorder()
        task = asyncio.create_task(source(str(device.link), kiss=kiss).run(keeper, health))
        await until(lambda now=health: now.is_open)  # type: ignore[misc]
        for byte in sent:
            device.send(bytes([byte]))
        await until(lambda now=keeper, all_=expected: len(now.frames) == len(all_))  # type: ignore[misc]
        assert [frame.data for frame in keeper.frames] == expected
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task


async def test_pulled_out_and_plugged_in_again(device: PtyDevice, tmp_path: Path) -> None:
    keeper, health = Keeper(), recorder()
    task = asyncio.create_task(
        supervise(
            source(f"{tmp_path}/usb-*"), keeper, health, BackoffSettings(first_s=0.05, most_s=0.1)
        )
    )
    for number in range(5):
        await until(lambda: health.is_open)
        device.send(b"%d\n" % number)
        await until(lambda wanted=number: keeper.texts[-1:] == [f"{wanted}"])  # type: ignore[misc]
        device.pull_out()
        await until(lambda: health.snapshot().state is SourceState.RETRYING)
        await until(lambda: "plug it in" in health.snapshot().last_error)
        device.plug_in()
    assert keeper.texts == ["0", "1", "2", "3", "4"]
    task.cancel()
    with contextlib.suppress(asyncio.CancelledError):
        await task


async def test_nothing_is_lost_while_the_pipeline_is_full(device: PtyDevice) -> None:
    gate = asyncio.Event()
    keeper, health = Keeper(gate=gate), recorder()
    task = asyncio.create_task(source(str(device.link)).run(keeper, health))
    await until(lambda: health.is_open)
    sending = asyncio.create_task(
        asyncio.to_thread(device.send, b"".join(b"%d\n" % number for number in range(5000)))
    )
    await until(lambda: bool(keeper.frames))
    await asyncio.sleep(0.2)
    assert len(keeper.frames) == 1
    gate.set()
    await sending
    await until(lambda: len(keeper.frames) == 5000)
    assert keeper.texts == [f"{number}" for number in range(5000)]
    task.cancel()
    with contextlib.suppress(asyncio.CancelledError):
        await task


async def test_a_port_in_use_is_said(device: PtyDevice) -> None:
    keeper, health = Keeper(), recorder()
    task = asyncio.create_task(source(str(device.link)).run(keeper, health))
    await until(lambda: health.is_open)
    with pytest.raises(SourceError, match="in use by another program"):
        await source(str(device.link)).run(keeper, recorder())
    task.cancel()
    with contextlib.suppress(asyncio.CancelledError):
        await task


async def test_what_cannot_be_opened_is_said(tmp_path: Path) -> None:
    for port, says in (
        (str(tmp_path / "none"), "is not there; plug it in"),
        (f"{tmp_path}/usb-*", "no device fits"),
        (str(Path(__file__)), "can't be opened"),
    ):
        with pytest.raises(SourceError, match=says):
            await source(port).run(Keeper(), recorder())
    for name in ("usb-1", "usb-2"):
        (tmp_path / name).touch()
    with pytest.raises(SourceError, match="write a pattern that fits one"):
        await source(f"{tmp_path}/usb-*").run(Keeper(), recorder())


def test_settings_that_cannot_work() -> None:
    with pytest.raises(ConfigurationError, match="port is empty"):
        source("")
    with pytest.raises(ConfigurationError, match="baud"):
        SerialSource(
            SerialSettings(name="radio", port="/dev/null", baud=0, decoder=AprsSettings()),
            SystemClock(),
        )


async def test_lines_are_sent_at_the_opening_and_the_form_is_set(device: PtyDevice) -> None:
    keeper, health = Keeper(), recorder()
    settings = SerialSettings(
        name="radio",
        port=str(device.link),
        decoder=AprsSettings(),
        data_bits=7,
        parity="even",
        stop_bits="2",
        at_opening=("KISS ON", "hex:C0 FF C0"),
    )
    task = asyncio.create_task(SerialSource(settings, SystemClock()).run(keeper, health))
    await until(lambda: health.is_open)
    assert device.received(11) == b"KISS ON\r\xc0\xff\xc0"
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)


@pytest.mark.parametrize("changes", [{"data_bits": 9}, {"at_opening": ("hex:zz",)}, {"baud": 0}])
def test_a_form_that_no_port_has(changes: dict[str, Any]) -> None:
    with pytest.raises(ConfigurationError):
        SerialSource(
            SerialSettings(name="r", port="/dev/x", decoder=AprsSettings(), **changes),
            SystemClock(),
        )
