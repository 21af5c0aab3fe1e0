"""Datagrams from programs and modems that send them: one or more frames each."""

import asyncio
import socket
from dataclasses import dataclass
from typing import Final, Literal

from groundstation.clock import Clock
from groundstation.decoders.binary import BinarySettings
from groundstation.decoders.build import DecoderSettings
from groundstation.errors import ConfigurationError, SourceError
from groundstation.records import Frame
from groundstation.sources.framers import framer_for
from groundstation.sources.health import HealthRecorder
from groundstation.sources.source import Emit

BUFFER_BYTES: Final = 1 << 20
"""Asked of the system: while the station is busy it keeps what comes, and drops the rest."""

WAITING: Final = 1000  # own choice: seconds of the busiest receiver
_WHOLE: Final = ("json", "feed", "forwarded", "pattern", "pairs", "binary")


@dataclass(frozen=True, slots=True, kw_only=True)
class UdpSettings:
    """Where datagrams come in. With ``senders`` only those addresses are listened to: UDP has no
    other guard. A datagram is a message, or several lines or KISS frames where the decoder reads
    those."""

    kind: Literal["udp"] = "udp"
    name: str
    port: int
    decoder: DecoderSettings
    host: str = "127.0.0.1"
    senders: tuple[str, ...] = ()


class UdpSource:
    """Listens while it runs. Raises ``ConfigurationError`` for settings that cannot work."""

    def __init__(self, settings: UdpSettings, clock: Clock) -> None:
        if not settings.host:
            raise ConfigurationError('host is empty; "0.0.0.0" listens to everybody')
        if not 0 <= settings.port <= 0xFFFF:
            raise ConfigurationError(f"port: {settings.port} is not between 0 and 65535")
        if not isinstance(settings.decoder, BinarySettings):
            framer_for(settings.decoder)
        self.name = settings.name
        self._settings = settings
        self._clock = clock

    async def run(self, emit: Emit, health: HealthRecorder) -> None:
        """Listen until cancelled. Raises ``SourceError`` where the port is not to be had."""
        settings = self._settings
        where = f"{settings.host}:{settings.port}"
        arrivals: asyncio.Queue[tuple[bytes, str]] = asyncio.Queue(WAITING)
        loop = asyncio.get_running_loop()
        try:
            transport, _ = await loop.create_datagram_endpoint(
                lambda: _Receiver(arrivals), local_addr=(settings.host, settings.port)
            )
        except OSError as error:
            raise SourceError(
                "cannot listen on {where} ({why}); another program may have the port",
                where=where,
                why=error.strerror,
            ) from error
        try:
            transport.get_extra_info("socket").setsockopt(
                socket.SOL_SOCKET, socket.SO_RCVBUF, BUFFER_BYTES
            )
            health.opened()
            while True:
                data, sender = await arrivals.get()
                if settings.senders and sender not in settings.senders:
                    continue
                received_utc = self._clock.now_utc()
                for raw in self._frames(data):
                    frame = Frame(
                        source=self.name, received_utc=received_utc, data=raw, receiver=sender
                    )
                    health.received(frame)
                    await emit(frame)
        finally:
            transport.close()

    def _frames(self, data: bytes) -> list[bytes]:
        decoder = self._settings.decoder
        if decoder.kind in _WHOLE:
            return [data] if data else []
        framer = framer_for(decoder)
        return [*framer.feed(data), *framer.flush()]


class _Receiver(asyncio.DatagramProtocol):
    """Puts datagrams into a bounded queue; a full one drops the newest, as UDP may."""

    def __init__(self, arrivals: asyncio.Queue[tuple[bytes, str]]) -> None:
        self._arrivals = arrivals

    def datagram_received(self, data: bytes, addr: tuple[str, int]) -> None:
        if not self._arrivals.full():
            self._arrivals.put_nowait((data, str(addr[0])))
