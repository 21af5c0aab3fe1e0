"""Frames from an MQTT broker (MQTT 5 or 3.1.1), acknowledged once they are on disk.

The session outlives the connection: the broker keeps what comes while the station is away, and
sends again what was not acknowledged. What that costs is a message twice now and then, which the
gate knows for a duplicate.
"""

import asyncio
import functools
import hashlib
import logging
import platform
import ssl
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final, Literal

import aiomqtt
from paho.mqtt.reasoncodes import ReasonCode

from groundstation.clock import Clock
from groundstation.decoders.build import DecoderSettings
from groundstation.decoders.text import clean_name
from groundstation.errors import ConfigurationError, SourceError, Words
from groundstation.records import Frame
from groundstation.settings.secret import Secret
from groundstation.settings.tls import trusting, why_no_tls
from groundstation.sources.health import HealthRecorder
from groundstation.sources.mqtt_ack import AcknowledgingClient
from groundstation.sources.source import Emit

log = logging.getLogger(__name__)

MAX_PAYLOAD_BYTES: Final = 64 * 1024
"""What is kept of one message; the rest is cut off, with a warning. Own choice: a position takes
some hundred bytes."""

GOODBYE_S: Final = 2.0
"""How long a station that is being stopped waits for the broker's answer. Own choice."""

FROM_TOPIC: Final = "topic"

# MQTT 5, table 2-6; the library turns the codes of MQTT 3.1.1 into these.
_UNSPECIFIED: Final = 0x80
_UNSUPPORTED_VERSION: Final = 0x84  # MQTT 5.0, table 3-1: CONNACK reason codes
_BAD_IDENTIFIER: Final = 0x85  # as above
_BAD_USER: Final = 0x86  # as above
_NOT_AUTHORIZED: Final = 0x87  # as above


@dataclass(frozen=True, slots=True, kw_only=True)
class MqttSettings:
    """A broker and what to read there.

    ``client_id`` names the session at the broker and must be the station's own; empty, it is
    made from ``name`` and what tells this machine from others. With ``cert_file`` and ``key_file``
    (PEM) the station proves itself by a certificate. ``transport`` "websockets" goes by a
    WebSocket at ``websocket_path``, for networks that let nothing else out, and for small messages.
    ``topic_tracker`` is the level of the topic, from 1, that names the tracker.
    ``session_expiry_s`` is how long the broker keeps things for an absent station (MQTT 5 only;
    3.1.1 leaves that to the broker). At most ``in_flight`` messages may wait for the disk; a broker
    of MQTT 3.1.1 goes by its own limit instead.
    """

    kind: Literal["mqtt"] = "mqtt"
    name: str
    host: str
    topics: tuple[str, ...]
    decoder: DecoderSettings
    port: int = 1883
    client_id: str = ""
    protocol: Literal["5", "3.1.1"] = "5"
    username: str = ""
    password: Secret | None = None
    tls: bool = False
    ca_file: Path | None = None
    cert_file: Path | None = None
    key_file: Path | None = None
    key_password: Secret | None = None
    transport: Literal["tcp", "websockets"] = "tcp"
    websocket_path: str = "/mqtt"
    topic_tracker: int | None = None
    session_expiry_s: int = 7 * 86400
    in_flight: int = 100

    def __post_init__(self) -> None:
        tracker = getattr(self.decoder, "tracker", None)
        if self.topic_tracker is not None and tracker == "":
            # The topic says whose it is; the decoder alone could not.
            named: Any = self.decoder
            object.__setattr__(self, "decoder", replace(named, tracker=FROM_TOPIC))


class MqttSource:
    """One connection a ``run``. Raises ``ConfigurationError`` for settings that cannot work."""

    def __init__(self, settings: MqttSettings, clock: Clock) -> None:
        _check(settings)
        self.name = settings.name
        self._settings = settings
        self._clock = clock
        self._client_id = settings.client_id or f"groundstation-{settings.name}-{machine_mark()}"
        self._strangers: set[str] = set()

    async def run(self, emit: Emit, health: HealthRecorder) -> None:
        """Read until the connection ends. Raises ``SourceError``, saying why it ended."""
        client = self._client(await asyncio.to_thread(self._tls))
        try:
            async with client:
                refused = await client.subscribe_all(self._settings.topics)
                if refused:
                    raise SourceError(
                        "{where} does not let us read {topics}",
                        where=self._where(),
                        topics=", ".join(refused),
                    )
                health.opened()
                try:
                    async for message in client.messages:
                        await self._take(message, client, emit, health)
                except asyncio.CancelledError:
                    client.timeout = GOODBYE_S
                    raise
        except (aiomqtt.MqttError, OSError, ValueError) as error:
            task = asyncio.current_task()
            if task is not None and task.cancelling():
                # Saying goodbye to the broker failed; that must not hide that we were stopped.
                raise asyncio.CancelledError from error
            raise SourceError(self._why(error)) from error
        finally:
            client.close()

    async def _take(
        self,
        message: aiomqtt.Message,
        client: AcknowledgingClient,
        emit: Emit,
        health: HealthRecorder,
    ) -> None:
        topic = message.topic.value
        stored = functools.partial(client.acknowledge, message)
        if not any(message.topic.matches(wanted) for wanted in self._settings.topics):
            # The session still holds a subscription from before the settings were changed.
            if topic not in self._strangers:
                self._strangers.add(topic)
                log.warning("%s: passing over %s, which is not asked for now", self.name, topic)
            stored()
            return
        data = message.payload
        if len(data) > MAX_PAYLOAD_BYTES:
            log.warning(
                "%s: a message of %d bytes on %s is cut to %d",
                self.name, len(data), topic, MAX_PAYLOAD_BYTES,
            )  # fmt: skip
            data = data[:MAX_PAYLOAD_BYTES]
        frame = Frame(
            source=self.name,
            received_utc=self._clock.now_utc(),
            data=data,
            receiver=topic,
            retained=bool(message.retain),
            sender=self._sender(topic),
        )
        health.received(frame)
        await emit(frame, stored)

    def _sender(self, topic: str) -> str:
        """Whom the topic names, or ""."""
        level = self._settings.topic_tracker
        levels = topic.split("/")
        return clean_name(levels[level - 1]) if level and level <= len(levels) else ""

    def _tls(self) -> ssl.SSLContext | None:
        settings = self._settings
        if not settings.tls:
            return None
        password = None if settings.key_password is None else settings.key_password.reveal()
        return trusting(
            settings.ca_file, self._where(), settings.cert_file, settings.key_file, password
        )

    def _client(self, tls: ssl.SSLContext | None) -> AcknowledgingClient:
        settings = self._settings
        return AcknowledgingClient(
            settings.host,
            settings.port,
            client_id=self._client_id,
            version_5=settings.protocol == "5",
            session_expiry_s=settings.session_expiry_s,
            in_flight=settings.in_flight,
            username=settings.username or None,
            password=None if settings.password is None else settings.password.reveal(),
            tls=tls,
            transport=settings.transport,
            websocket_path=settings.websocket_path,
        )

    def _where(self) -> Words:
        server = f"{self._settings.host}:{self._settings.port}"
        return Words("MQTT broker {server}", server=server)

    def _why(self, error: Exception) -> Words:
        where, client = self._where(), repr(self._client_id)
        cause = error.__cause__ if error.__cause__ is not None else error
        code = cause.rc if isinstance(cause, aiomqtt.MqttCodeError) else None
        value = code.value if isinstance(code, ReasonCode) else None
        if value in (_BAD_USER, _NOT_AUTHORIZED):
            return Words("{where} refuses the user name or the password", where=where)
        if value == _UNSUPPORTED_VERSION:
            return Words(
                "{where} does not speak MQTT {version}; set protocol",
                where=where,
                version=self._settings.protocol,
            )
        if value == _BAD_IDENTIFIER:
            return Words(
                "{where} refuses the client_id {id}", where=where, id=repr(self._client_id)
            )
        if value == _UNSPECIFIED:
            return Words(
                "{where}: the connection broke; if that goes on, look whether another client uses"
                " the client_id {id}",
                where=where,
                id=client,
            )
        for failure in (error, cause, cause.__cause__, cause.__context__):
            if isinstance(failure, ssl.SSLError):
                return why_no_tls(where, failure)
        if "timed out" in str(cause).lower():
            return Words("{where} does not answer; {hint}", where=where, hint=self._hint())
        return Words("{where}: {why}", where=where, why=cause)

    def _hint(self) -> Words:
        """What may be otherwise on its side where a connection stands and nothing is said."""
        settings = self._settings
        if settings.transport == "websockets":
            return Words("is there a WebSocket on that port, and is websocket_path right?")
        if settings.tls:
            return Words(
                "does it speak TLS on that port, and does it want a certificate of ours (cert_file,"
                " key_file)?"
            )
        return Words(
            'a port with TLS wants tls = true, one with WebSocket transport = "websockets"'
        )


def machine_mark() -> str:
    """Some letters that tell this machine from others (machine-id(5)), and say nothing of it.

    Two stations with one copied configuration would take the connection from each other else.
    """
    try:
        mark = Path("/etc/machine-id").read_text("ascii").strip()
    except (OSError, UnicodeDecodeError):
        mark = ""
    mark = mark or platform.node()
    return hashlib.sha256(f"groundstation {mark}".encode()).hexdigest()[:8]


def _check(settings: MqttSettings) -> None:
    if not settings.host:
        raise ConfigurationError("host is empty")
    scheme, arrow, rest = settings.host.partition("://")
    if arrow or "/" in settings.host:
        web = ' and transport = "websockets"' if scheme in ("ws", "wss") else ""
        safe = " and tls = true" if scheme in ("wss", "mqtts", "ssl", "https") else ""
        raise ConfigurationError(
            f"host: {settings.host!r} is an address; set"
            f" host = {rest.split('/')[0].split(':')[0]!r}{web}{safe}, and its port"
        )
    if (settings.key_file or settings.key_password) and settings.cert_file is None:
        raise ConfigurationError("key_file and key_password go with a cert_file, which is missing")
    if settings.cert_file is not None and not settings.tls:
        raise ConfigurationError("cert_file is given, but tls is not true")
    if not settings.websocket_path.startswith("/"):
        raise ConfigurationError("websocket_path must begin with /")
    if settings.topic_tracker is not None and not 1 <= settings.topic_tracker <= 100:
        raise ConfigurationError("topic_tracker is a level of the topic, from 1")
    if not settings.topics:
        raise ConfigurationError("topics is empty; name at least one topic")
    for topic in settings.topics:
        try:
            aiomqtt.Wildcard(topic)
        except (TypeError, ValueError) as error:
            raise ConfigurationError(f"topics: {topic!r} is not an MQTT topic filter") from error
    if not 1 <= settings.port <= 0xFFFF:
        raise ConfigurationError(f"port: {settings.port} is not between 1 and 65535")
    if not 1 <= settings.in_flight <= 0xFFFF:
        raise ConfigurationError(f"in_flight: {settings.in_flight} is not between 1 and 65535")
    if not 0 < settings.session_expiry_s <= 0xFFFFFFFF:
        raise ConfigurationError("session_expiry_s must be between 1 and 4294967295")
    if settings.password is not None and not settings.username:
        raise ConfigurationError("password is given without a username")
    if settings.ca_file is not None and not settings.tls:
        raise ConfigurationError("ca_file is given, but tls is not true")
