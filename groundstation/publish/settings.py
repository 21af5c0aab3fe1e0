"""Where to publish, and what."""

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from groundstation.errors import ConfigurationError
from groundstation.settings.secret import Secret


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishSettings:
    """A broker (MQTT 5), and the first part of all topics.

    With ``state`` the newest fix, phase and landing estimate of each payload are kept there as
    retained messages, and every alert is told. With ``forward`` every frame that is heard goes out
    as well, under the name ``station``, for a base that merges what many receivers hear. With
    ``cert_file`` and ``key_file`` (PEM) the station proves itself by a certificate; ``transport``
    "websockets" goes by a WebSocket at ``websocket_path``.
    """

    host: str
    port: int = 1883
    prefix: str = "groundstation"
    station: str = "base"
    state: bool = True
    forward: bool = False
    username: str = ""
    password: Secret | None = None
    tls: bool = False
    ca_file: Path | None = None
    cert_file: Path | None = None
    key_file: Path | None = None
    key_password: Secret | None = None
    transport: Literal["tcp", "websockets"] = "tcp"
    websocket_path: str = "/mqtt"

    def __post_init__(self) -> None:
        if not self.host:
            raise ConfigurationError("publish.host is empty")
        if not 1 <= self.port <= 0xFFFF:
            raise ConfigurationError(f"publish.port: {self.port} is not between 1 and 65535")
        for name in ("prefix", "station"):
            value = getattr(self, name)
            if not value or set(value) & set("+#\0") or value.startswith("$"):
                raise ConfigurationError(f"publish.{name}: {value!r} can't be part of a topic")
        if self.password is not None and not self.username:
            raise ConfigurationError("publish.password is given without a username")
        if (self.key_file or self.key_password) and self.cert_file is None:
            raise ConfigurationError("publish.key_file and key_password go with a cert_file")
        for name in ("ca_file", "cert_file"):
            if getattr(self, name) is not None and not self.tls:
                raise ConfigurationError(f"publish.{name} is given, but tls is not true")
        if not self.websocket_path.startswith("/"):
            raise ConfigurationError("publish.websocket_path must begin with /")
