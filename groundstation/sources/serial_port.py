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
from groundstation.errors import ConfigurationError, SourceError
from groundstation.records import Frame
from groundstation.sources.framers import framer_for
from groundstation.sources.health import HealthRecorder
from groundstation.sources.source import Emit

READ_BYTES: Final = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class SerialSettings:
    """A serial port, 8 bits, no parity, 1 stop bit.

    ``port`` is a device, or a pattern such as ``/dev/serial/by-id/usb-*`` that fits one.
    Text lines are read, or KISS frames where the decoder's framing is "ax25".
    """

    kind: Literal["serial"] = "serial"
    name: str
    port: str
    decoder: DecoderSettings
    baud: int = 9600


class SerialSource:
    """One opening of the port a ``run``. Raises ``ConfigurationError`` for impossible settings."""

    def __init__(self, settings: SerialSettings, clock: Clock) -> None:
        if not settings.port:
            raise ConfigurationError("port is empty; name the device")
        if not settings.baud > 0:
            raise ConfigurationError("baud must be above 0")
        self.name = settings.name
        self._settings = settings
        self._clock = clock

    async def run(self, emit: Emit, health: HealthRecorder) -> None:
        """Read until the port is gone. Raises ``SourceError``, saying why."""
        device = self._device()
        port = self._open(device)
        framer = framer_for(self._settings.decoder)
        try:
            health.opened()
            while True:
                await _readable(port.fileno())
                try:
                    data = os.read(port.fileno(), READ_BYTES)
                except BlockingIOError:
                    continue
                except OSError as error:
                    raise SourceError(f"{device} was unplugged ({error.strerror})") from error
                if not data:
                    raise SourceError(f"{device} was unplugged")
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
            raise SourceError(f"no device fits {pattern}; plug it in")
        if len(found) > 1:
            raise SourceError(f"{pattern} fits {', '.join(found)}; write a pattern that fits one")
        return found[0]

    def _open(self, device: str) -> Any:
        try:
            return serial.Serial(device, self._settings.baud, timeout=0, exclusive=True)
        except (serial.SerialException, OSError, ValueError) as error:
            raise SourceError(_why(device, error)) from error


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


def _why(device: str, error: Exception) -> str:
    match getattr(error, "errno", None):
        case errno.ENOENT:
            return f"{device} is not there; plug it in"
        case errno.EACCES:
            return f"{device} may not be opened; add the station's user to the group dialout"
        case errno.EBUSY | errno.EAGAIN:
            return f"{device} is in use by another program; stop that"
        case _:
            return f"{device} can't be opened: {error}"
