"""Lines or frames from programs that connect to us: a listening TCP port."""

import asyncio
import contextlib
import ipaddress
from dataclasses import dataclass
from typing import Final, Literal

from groundstation.clock import Clock
from groundstation.decoders.build import DecoderSettings
from groundstation.errors import ConfigurationError, SourceError
from groundstation.records import Frame
from groundstation.sources.framers import framer_for
from groundstation.sources.health import HealthRecorder
from groundstation.sources.silence import heard
from groundstation.sources.source import Emit

MOST_CONNECTIONS: Final = 20
"""More receivers than one base has; own choice."""

SILENCE_S: Final = 3600.0
"""After so long without a byte a connection makes room for another; own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TcpListenSettings:
    """Where programs may connect. Beyond this machine ``senders``, their addresses, are needed:
    anybody could send positions else."""

    kind: Literal["tcp-listen"] = "tcp-listen"
    name: str
    port: int
    decoder: DecoderSettings
    host: str = "127.0.0.1"
    senders: tuple[str, ...] = ()


class TcpListenSource:
    """Listens while it runs. Raises ``ConfigurationError`` for settings that cannot work."""

    def __init__(self, settings: TcpListenSettings, clock: Clock) -> None:
        if not 0 <= settings.port <= 0xFFFF:
            raise ConfigurationError(f"port: {settings.port} is not between 0 and 65535")
        if not settings.senders and not _only_here(settings.host):
            raise ConfigurationError(
                f"host {settings.host!r} lets anybody send positions; set senders to the addresses"
                " that may"
            )
        framer_for(settings.decoder)
        self.name = settings.name
        self._settings = settings
        self._clock = clock
        self._open = 0

    async def run(self, emit: Emit, health: HealthRecorder) -> None:
        """Listen until cancelled. Raises ``SourceError`` where the port is not to be had."""
        settings = self._settings

        async def connected(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            sender = str((writer.get_extra_info("peername") or ("",))[0])
            may = not settings.senders or sender in settings.senders
            self._open += 1
            try:
                if may and self._open <= MOST_CONNECTIONS:
                    await self._read(reader, sender, emit, health)
            except (OSError, TimeoutError):
                pass
            finally:
                self._open -= 1
                writer.close()
                with contextlib.suppress(OSError):
                    await writer.wait_closed()

        try:
            server = await asyncio.start_server(connected, settings.host, settings.port)
        except OSError as error:
            where = f"{settings.host}:{settings.port}"
            raise SourceError(
                "cannot listen on {where} ({why}); another program may have the port",
                where=where,
                why=error.strerror,
            ) from error
        try:
            health.opened()
            await asyncio.Event().wait()
        finally:
            server.close()

    async def _read(
        self, reader: asyncio.StreamReader, sender: str, emit: Emit, health: HealthRecorder
    ) -> None:
        framer = framer_for(self._settings.decoder)
        while True:
            data = await heard(reader, SILENCE_S)
            received_utc = self._clock.now_utc()
            for raw in framer.feed(data) if data else framer.flush():
                frame = Frame(
                    source=self.name, received_utc=received_utc, data=raw, receiver=sender
                )
                health.received(frame)
                await emit(frame)
            if not data:
                return


def _only_here(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"
