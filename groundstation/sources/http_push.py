"""Positions that others post to us: a webhook.

An answer of 200 means that the message is on disk. What is posted twice is a duplicate to the gate,
so a sender may try again as often as it likes. A form, also one with parts, and the query of a GET
are kept as the JSON object of their fields. What is kept and not understood is answered 202: a
service that is told of an error would send it for ever. An empty call, by which services try the
address, is answered 200.
"""

import asyncio
import base64
import hashlib
import hmac
import ipaddress
from collections import deque
from dataclasses import dataclass
from typing import Final, Literal

from aiohttp import web

from groundstation.clock import Clock
from groundstation.decoders.build import DecoderSettings, build_decoder
from groundstation.decoders.text import clean
from groundstation.errors import ConfigurationError, SourceError
from groundstation.httpd import BODY_S, Routes, listening, runner
from groundstation.records import Frame, Unreadable
from groundstation.settings.secret import Secret
from groundstation.sources.health import HealthRecorder
from groundstation.sources.push_body import form_json, read_form, read_multipart
from groundstation.sources.source import Emit

STORED_S: Final = 10.0
"""How long a sender waits for the disk before it is told to come again. Own choice."""

RATE_OVER_S: Final = 60.0  # bounds are told for a minute
LEAST_TOKEN: Final = 20  # own choice: 100 bits and more, if drawn from letters and digits


@dataclass(frozen=True, slots=True, kw_only=True)
class SignatureSettings:
    """HMAC-SHA256 of the body (RFC 2104), in hexadecimal in ``header``, after ``prefix`` if any."""

    secret: Secret
    header: str = "X-Signature"
    prefix: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HttpPushSettings:
    """Where we listen, and how senders prove who they are.

    ``token`` comes as ``Authorization: Bearer``, as the password of ``Authorization: Basic``, or as
    ``token`` in the address for senders that cannot set headers. Beyond this machine one of
    ``token`` and ``signature`` is needed, and a reverse proxy with TLS should stand before it.
    """

    kind: Literal["http-push"] = "http-push"
    name: str
    decoder: DecoderSettings
    host: str = "127.0.0.1"
    port: int = 8081
    path: str = "/"
    token: Secret | None = None
    signature: SignatureSettings | None = None
    most_bytes: int = 65_536
    most_a_minute: int = 600


class HttpPushSource:
    """Listens while it runs. Raises ``ConfigurationError`` for settings that cannot work."""

    def __init__(self, settings: HttpPushSettings, clock: Clock) -> None:
        _check(settings)
        self.name = settings.name
        self._settings = settings
        self._clock = clock
        self._decoder = build_decoder(settings.decoder)
        self._times: deque[float] = deque()

    async def run(self, emit: Emit, health: HealthRecorder) -> None:
        """Listen until cancelled. Raises ``SourceError`` where the port is not to be had."""
        settings = self._settings

        async def post(request: web.Request) -> web.Response:
            return await self._answer(request, emit, health)

        app = web.Application(client_max_size=settings.most_bytes)
        routes = Routes(app)
        routes.add("POST", settings.path, post)
        routes.add("GET", settings.path, post)
        routes.close()
        try:
            async with listening(runner(app, shutdown_s=2.0), settings.host, settings.port):
                health.opened()
                await asyncio.Event().wait()
        except OSError as error:
            where = f"{settings.host}:{settings.port}"
            raise SourceError(
                "cannot listen on {where} ({why})", where=where, why=error.strerror
            ) from error

    async def _answer(
        self, request: web.Request, emit: Emit, health: HealthRecorder
    ) -> web.Response:
        try:
            async with asyncio.timeout(BODY_S):
                body = await request.read()
        except web.HTTPRequestEntityTooLarge:
            return _said(413, f"a message has at most {self._settings.most_bytes} bytes")
        except TimeoutError:
            return _said(408, "the message did not come in time")
        except ConnectionError:
            # Nobody is there to read it.
            return _said(400, "the message ended too early")
        if not self._allowed(request, body):
            return _said(401, "the token or the signature is missing or wrong")
        # Counted only now: strangers must not use up what the sender may send.
        if self._too_many():
            return _said(429, "too many messages; wait a minute", retry_s=RATE_OVER_S)
        taken = self._taken(request, body)
        if taken is None:
            return _said(400, "the form cannot be read")
        if not taken.strip():
            return _said(200, "the station listens here; nothing came with this call")
        body = taken
        frame = Frame(
            source=self.name,
            received_utc=self._clock.now_utc(),
            data=body,
            receiver=request.remote or "",
        )
        stored = asyncio.Event()
        try:
            async with asyncio.timeout(STORED_S):
                await emit(frame, stored.set)
                await stored.wait()
        except TimeoutError:
            return _said(503, "the station is busy; try again", retry_s=STORED_S)
        health.received(frame)
        read = self._decoder.decode(body, frame.received_utc)
        unreadable = [report for report in read if isinstance(report, Unreadable)]
        if len(unreadable) == len(read):
            # A service that is told of an error would send the same for ever.
            return _said(202, f"kept, but not understood: {unreadable[0].detail}")
        unread = next(
            (reading.time_unread for reading in read if not isinstance(reading, Unreadable)), ""
        )
        if unread:
            return _said(202, f"kept, but its time can't be read: {clean(unread)}")
        return _said(200, "kept")

    def _taken(self, request: web.Request, body: bytes) -> bytes | None:
        """What the decoder is to read: the body, or a form or a query as JSON."""
        if request.content_type == "application/x-www-form-urlencoded" and body:
            return read_form(body)
        if request.content_type == "multipart/form-data" and body:
            return read_multipart(body, request.headers.get("Content-Type", ""))
        if body.strip():
            return body
        pairs = [(name, value) for name, value in request.query.items() if name != "token"]
        return form_json(pairs) if pairs else b""

    def _too_many(self) -> bool:
        now = self._clock.monotonic_s()
        while self._times and now - self._times[0] > RATE_OVER_S:
            self._times.popleft()
        if len(self._times) >= self._settings.most_a_minute:
            return True
        self._times.append(now)
        return False

    def _allowed(self, request: web.Request, body: bytes) -> bool:
        """Whether all that is asked for is there; compared in constant time."""
        token, signature = self._settings.token, self._settings.signature
        if token is not None:
            scheme, _, given = request.headers.get("Authorization", "").partition(" ")
            match scheme.lower():
                case "bearer":
                    pass
                case "basic":
                    given = _password(given)
                case _:
                    given = request.query.get("token", "")
            if not _same(given, token.reveal()):
                return False
        if signature is not None:
            made = hmac.new(signature.secret.reveal().encode(), body, hashlib.sha256).hexdigest()
            given = request.headers.get(signature.header, "")
            if not _same(given, f"{signature.prefix}{made}"):
                return False
        return True


def _password(given: str) -> str:
    """The password of basic authentication (RFC 7617), or ""."""
    try:
        return base64.b64decode(given, validate=True).decode().partition(":")[2]
    except ValueError:
        return ""


def _same(given: str, right: str) -> bool:
    """Compare in constant time; what is given may be any bytes."""
    return hmac.compare_digest(given.encode("utf-8", "surrogateescape"), right.encode())


def _said(status: int, words: str, *, retry_s: float | None = None) -> web.Response:
    headers = {} if retry_s is None else {"Retry-After": f"{retry_s:.0f}"}
    return web.json_response({"message": words}, status=status, headers=headers)


def _check(settings: HttpPushSettings) -> None:
    if not 0 <= settings.port <= 0xFFFF:
        raise ConfigurationError(f"port: {settings.port} is not between 0 and 65535")
    if not settings.path.startswith("/"):
        raise ConfigurationError("path must begin with /")
    if settings.most_bytes < 1 or settings.most_a_minute < 1:
        raise ConfigurationError("most_bytes and most_a_minute must be at least 1")
    given = settings.token or (settings.signature and settings.signature.secret)
    if given and len(given.reveal()) < LEAST_TOKEN and not _only_here(settings.host):
        raise ConfigurationError(
            f"a token or secret of less than {LEAST_TOKEN} characters can be guessed from outside; "
            "take a longer one"
        )
    if settings.token is None and settings.signature is None and not _only_here(settings.host):
        raise ConfigurationError(
            f"host {settings.host!r} lets anybody post positions; set a token or a signature"
        )


def _only_here(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"
