"""Frames from a serial port, read by the event loop itself.

A port that is pulled out ends the ``run``; the supervisor finds it again under the same name. Names
under ``/dev/serial/by-id`` stay the same wherever it is plugged in.
"""

import asyncio
import errno
import glob
import os
from dataclasses import dataclass
from typing import Any, Final, Literal

import serial

from groundstation.clock import Clock
from groundstation.decoders.build import DecoderSettings
from groundstation.errors import ConfigurationError, SourceError, Words
from groundstation.records import Frame
from groundstation.sources.framers import framer_for
from groundstation.sources.health import HealthRecorder
from groundstation.sources.source import Emit

# Own choice: the longest line that the system itself would keep, termios(3).
READ_BYTES: Final = 4096
WRITE_S: Final = 3.0  # own choice: a modem that takes no command for longer is not there
BETWEEN_LINES_S: Final = 0.2
"""A modem needs a moment for each line that it is sent. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SerialSettings:
    """A serial port; 8 data bits, no parity and 1 stop bit unless set otherwise.

    ``at_opening`` are texts that are sent once it is open, each with a carriage return, or bytes as
    "hex:C0 FF C0"; a modem may want "KISS ON", say.

    ``port`` is a device, or a pattern such as ``/dev/serial/by-id/usb-*`` that fits one.
    Text lines are read, or KISS frames where the decoder's framing is "ax25".
    """

    kind: Literal["serial"] = "serial"
    name: str
    port: str
    decoder: DecoderSettings
    baud: int = 9600
    data_bits: int = 8
    parity: Literal["none", "even", "odd", "mark", "space"] = "none"
    stop_bits: Literal["1", "1.5", "2"] = "1"
    at_opening: tuple[str, ...] = ()


class SerialSource:
    """One opening of the port a ``run``. Raises ``ConfigurationError`` for impossible settings."""

    def __init__(self, settings: SerialSettings, clock: Clock) -> None:
        if not settings.port:
            raise ConfigurationError("port is empty; name the device")
        if not settings.baud > 0:
            raise ConfigurationError("baud must be above 0")
        if settings.data_bits not in (5, 6, 7, 8):
            raise ConfigurationError("data_bits is 5, 6, 7 or 8")
        framer_for(settings.decoder)
        self._opening = [_sent(text) for text in settings.at_opening]
        self.name = settings.name
        self._settings = settings
        self._clock = clock

    async def run(self, emit: Emit, health: HealthRecorder) -> None:
        """Read until the port is gone. Raises ``SourceError``, saying why."""
        device = self._device()
        port = self._open(device)
        framer = framer_for(self._settings.decoder)
        try:
            for line in self._opening:
                await asyncio.to_thread(_write, port, line, device)
                await asyncio.sleep(BETWEEN_LINES_S)
            health.opened()
            while True:
                await _readable(port.fileno())
                try:
                    data = os.read(port.fileno(), READ_BYTES)
                except BlockingIOError:
                    continue
                except OSError as error:
                    raise SourceError(
                        "{device} was unplugged ({why})", device=device, why=error.strerror
                    ) from error
                if not data:
                    raise SourceError("{device} was unplugged", device=device)
                received_utc = self._clock.now_utc()
                for frame in framer.feed(data):
                    taken = Frame(
                        source=self.name, received_utc=received_utc, data=frame, receiver=device
                    )
                    health.received(taken)
                    await emit(taken)
        finally:
            port.close()

    def _device(self) -> str:
        pattern = self._settings.port
        if not glob.has_magic(pattern):
            return pattern
        found = sorted(glob.glob(pattern))  # noqa: PTH207 - the pattern is a whole path
        if not found:
            raise SourceError("no device fits {pattern}; plug it in", pattern=pattern)
        if len(found) > 1:
            raise SourceError(
                "{pattern} fits {devices}; write a pattern that fits one",
                pattern=pattern,
                devices=", ".join(found),
            )
        return found[0]

    def _open(self, device: str) -> Any:
        try:
            return serial.Serial(
                device,
                self._settings.baud,
                bytesize=self._settings.data_bits,
                parity=self._settings.parity[0].upper(),
                stopbits=float(self._settings.stop_bits),
                timeout=0,
                write_timeout=WRITE_S,
                exclusive=True,
            )
        except (serial.SerialException, OSError, ValueError) as error:
            raise SourceError(_why(device, error)) from error


def _sent(text: str) -> bytes:
    if not text.lower().startswith("hex:"):
        return text.encode("utf-8") + b"\r"
    try:
        return bytes.fromhex(text[4:])
    except ValueError as error:
        raise ConfigurationError(f"at_opening: {text!r} holds no hexadecimal digits") from error


def _write(port: Any, line: bytes, device: str) -> None:
    try:
        port.write(line)
        port.flush()
    except (serial.SerialException, OSError) as error:
        raise SourceError(
            "{device} does not take what is sent at the opening", device=device
        ) from error


async def _readable(descriptor: int) -> None:
    """Wait until there is something to read. One read at a time: a full pipeline is waited for,
    and the system keeps what comes meanwhile, as far as its buffer goes."""
    loop = asyncio.get_running_loop()
    ready = loop.create_future()

    def wake() -> None:
        if not ready.done():
            ready.set_result(None)

    loop.add_reader(descriptor, wake)
    try:
        await ready
    finally:
        loop.remove_reader(descriptor)


def _why(device: str, error: Exception) -> Words:
    match getattr(error, "errno", None):
        case errno.ENOENT:
            return Words("{device} is not there; plug it in", device=device)
        case errno.EACCES:
            return Words(
                "{device} may not be opened; add the station's user to the group dialout",
                device=device,
            )
        case errno.EBUSY | errno.EAGAIN:
            return Words("{device} is in use by another program; stop that", device=device)
        case _:
            return Words("{device} can't be opened: {why}", device=device, why=error)
