"""Frames from a TCP server that sends lines, or KISS frames.

With a login it is one of the servers of the APRS Internet System, which want a name before they
send, and let us choose what (APRS-IS documentation: the user line, the pass code -1 for who only
listens, server-side filters). Such a server sends a comment every 20 s or so, so that a connection
that has died is known by its silence.
"""

import asyncio
import contextlib
import re
import socket
import ssl
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Final, Literal

from groundstation.clock import Clock
from groundstation.decoders.build import DecoderSettings
from groundstation.errors import ConfigurationError, SourceError
from groundstation.records import Frame
from groundstation.settings.tls import trusting, why_no_tls
from groundstation.sources.framers import framer_for
from groundstation.sources.health import HealthRecorder
from groundstation.sources.silence import heard
from groundstation.sources.source import Emit

CONNECT_S: Final = 15.0
"""How long a server may take to answer. Own choice."""

LOGIN_SILENCE_S: Final = 90.0
"""Longest silence of a server that was logged in to: four of its comments. Own choice."""

_CALLSIGN: Final = re.compile(r"[A-Za-z0-9]{3,9}(-[A-Za-z0-9]{1,2})?")


@dataclass(frozen=True, slots=True, kw_only=True)
class AprsIsLogin:
    """Who we are to the server, and what we want of it. Nothing is ever sent but this.

    ``filter`` is in the server's own words, such as "b/Q0HAB-11" for one tracker.
    """

    callsign: str
    filter: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TcpSettings:
    """A server. Text lines are read, or KISS frames where the decoder's framing is "ax25".

    After ``silence_s`` (real seconds) without a byte the connection counts as dead; without it
    90 s with a login, else never. With ``tls`` the server proves itself by a certificate, of the
    authority in ``ca_file`` or one that the system trusts.
    """

    kind: Literal["tcp"] = "tcp"
    name: str
    host: str
    port: int
    decoder: DecoderSettings
    login: AprsIsLogin | None = None
    silence_s: float | None = None
    tls: bool = False
    ca_file: Path | None = None


class TcpSource:
    """One connection a ``run``. Raises ``ConfigurationError`` for settings that cannot work."""

    def __init__(self, settings: TcpSettings, clock: Clock) -> None:
        _check(settings)
        self.name = settings.name
        self._settings = settings
        self._clock = clock
        self._silence_s = settings.silence_s
        if settings.silence_s is None and settings.login is not None:
            self._silence_s = LOGIN_SILENCE_S

    async def run(self, emit: Emit, health: HealthRecorder) -> None:
        """Read until the connection ends. Raises ``SourceError``, saying why it ended."""
        where = f"{self._settings.host}:{self._settings.port}"
        reader, writer = await self._connect(where)
        framer = framer_for(self._settings.decoder)
        try:
            if self._settings.login is not None:
                writer.write(_login_line(self._settings.login))
                await writer.drain()
            health.opened()
            while True:
                data = await heard(reader, self._silence_s)
                received_utc = self._clock.now_utc()
                frames = framer.feed(data) if data else framer.flush()
                for frame in frames:
                    taken = Frame(
                        source=self.name, received_utc=received_utc, data=frame, receiver=where
                    )
                    health.received(taken)
                    await emit(taken)
                if not data:
                    raise SourceError("{where} closed the connection", where=where)
        except TimeoutError as error:
            raise SourceError(
                "{where} was silent for {seconds} s",
                where=where,
                seconds=round(self._silence_s or 0.0),
            ) from error
        except OSError as error:
            raise SourceError(
                "{where}: the connection broke ({why})", where=where, why=error.strerror
            ) from error
        finally:
            writer.close()
            with contextlib.suppress(OSError):
                await writer.wait_closed()

    async def _connect(self, where: str) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        settings = self._settings
        context = None
        if settings.tls:
            context = await asyncio.to_thread(trusting, settings.ca_file, where)
        try:
            async with asyncio.timeout(CONNECT_S):
                reader, writer = await asyncio.open_connection(
                    settings.host, settings.port, ssl=context
                )
        except TimeoutError as error:
            if settings.tls:
                raise SourceError(
                    "{where} does not answer; does it speak TLS on that port?", where=where
                ) from error
            raise SourceError("{where} does not answer", where=where) from error
        except ssl.SSLError as error:
            raise SourceError(why_no_tls(where, error)) from error
        except OSError as error:
            raise SourceError(
                "{where} can't be reached ({why})", where=where, why=error.strerror or error
            ) from error
        connection = writer.get_extra_info("socket")
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        return reader, writer


def _login_line(login: AprsIsLogin) -> bytes:
    wanted = f" filter {login.filter}" if login.filter else ""
    program = f"groundstation {version('groundstation')}"
    return f"user {login.callsign} pass -1 vers {program}{wanted}\r\n".encode()


def _check(settings: TcpSettings) -> None:
    if not settings.host or "/" in settings.host:
        raise ConfigurationError(
            f"host: {settings.host!r} is no name; no address with :// stands there"
        )
    if settings.ca_file is not None and not settings.tls:
        raise ConfigurationError("ca_file is given, but tls is not true")
    framer_for(settings.decoder)
    if not 1 <= settings.port <= 0xFFFF:
        raise ConfigurationError(f"port: {settings.port} is not between 1 and 65535")
    if settings.silence_s is not None and not settings.silence_s > 0.0:
        raise ConfigurationError("silence_s must be above 0")
    login = settings.login
    if login is not None:
        if not _CALLSIGN.fullmatch(login.callsign):
            raise ConfigurationError(f"login.callsign: {login.callsign!r} is not a callsign")
        if not login.filter.isprintable():
            raise ConfigurationError("login.filter has a character that no filter has")
