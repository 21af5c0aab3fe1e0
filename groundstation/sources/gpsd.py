"""Where base or a vehicle is, from gpsd (its JSON protocol, "gpsd_json(5)").

gpsd tells several times a second; of its time-position-velocity objects (TPV) with a fix one every
``every_s`` is taken, and the rest of what it says is passed over.
"""

import asyncio
import contextlib
import json
from dataclasses import dataclass
from typing import Final, Literal

from groundstation.clock import Clock
from groundstation.decoders.framing import LineFramer
from groundstation.decoders.json_map import JsonSettings
from groundstation.errors import ConfigurationError, SourceError
from groundstation.records import Frame
from groundstation.sources.health import HealthRecorder
from groundstation.sources.silence import heard
from groundstation.sources.source import Emit

WATCH: Final = b'?WATCH={"enable":true,"json":true};\n'
CONNECT_S: Final = 10.0  # own choice: it is on this machine or near
SILENCE_S: Final = 30.0
"""gpsd speaks every second while a receiver is there. Own choice."""

TWO_DIMENSIONS: Final = 2  # gpsd_json(5): mode 2 is a fix without height
FIELDS: Final = {
    "time": "time",
    "lat": "lat",
    "lon": "lon",
    "alt_m": "altMSL",
    "speed_ms": "speed",
    "course_deg": "track",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class GpsdSettings:
    """``tracker`` is the id under which a vehicle (or a payload) is known."""

    kind: Literal["gpsd"] = "gpsd"
    name: str
    tracker: str
    host: str = "127.0.0.1"
    port: int = 2947
    every_s: float = 5.0

    @property
    def decoder(self) -> JsonSettings:
        """What reads the objects that are taken."""
        return JsonSettings(fields=dict(FIELDS), tracker=self.tracker)


class GpsdSource:
    """One connection a ``run``. Raises ``ConfigurationError`` for settings that cannot work."""

    def __init__(self, settings: GpsdSettings, clock: Clock) -> None:
        if not settings.tracker.strip():
            raise ConfigurationError("tracker is empty; say whose position this is")
        if not 1 <= settings.port <= 0xFFFF:
            raise ConfigurationError(f"port: {settings.port} is not between 1 and 65535")
        self.name = settings.name
        self._settings = settings
        self._clock = clock
        self._taken_s = float("-inf")

    async def run(self, emit: Emit, health: HealthRecorder) -> None:
        """Read until the connection ends. Raises ``SourceError``, saying why it ended."""
        where = f"gpsd {self._settings.host}:{self._settings.port}"
        try:
            async with asyncio.timeout(CONNECT_S):
                reader, writer = await asyncio.open_connection(
                    self._settings.host, self._settings.port
                )
        except (TimeoutError, OSError) as error:
            raise SourceError("{where} can't be reached; is it running?", where=where) from error
        framer = LineFramer()
        try:
            writer.write(WATCH)
            await writer.drain()
            health.opened()
            while True:
                data = await heard(reader, SILENCE_S)
                if not data:
                    raise SourceError("{where} closed the connection", where=where)
                for line in framer.feed(data):
                    await self._take(line, where, emit, health)
        except TimeoutError as error:
            raise SourceError(
                "{where} was silent for {seconds} s; is a receiver connected to it?",
                where=where,
                seconds=round(SILENCE_S),
            ) from error
        except OSError as error:
            raise SourceError(
                "{where}: the connection broke ({why})", where=where, why=error.strerror
            ) from error
        finally:
            writer.close()
            with contextlib.suppress(OSError):
                await writer.wait_closed()

    async def _take(self, line: bytes, where: str, emit: Emit, health: HealthRecorder) -> None:
        now_s = self._clock.monotonic_s()
        if now_s - self._taken_s < self._settings.every_s or not _is_fix(line):
            return
        self._taken_s = now_s
        frame = Frame(
            source=self.name, received_utc=self._clock.now_utc(), data=line, receiver=where
        )
        health.received(frame)
        await emit(frame)


def _is_fix(line: bytes) -> bool:
    try:
        message = json.loads(line)
    except (ValueError, RecursionError):
        return False
    if not isinstance(message, dict) or message.get("class") != "TPV":
        return False
    mode = message.get("mode")
    return isinstance(mode, int) and mode >= TWO_DIMENSIONS
