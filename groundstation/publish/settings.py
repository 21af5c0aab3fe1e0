"""Where to publish, and what."""

from dataclasses import dataclass
from pathlib import Path

from groundstation.errors import ConfigurationError
from groundstation.settings.secret import Secret


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishSettings:
    """A broker (MQTT 5), and the first part of all topics.

    With ``state`` the newest fix, phase and landing estimate of each payload are kept there as
    retained messages, and every alert is told. With ``forward`` every frame that is heard goes out
    as well, under the name ``station``, for a base that merges what many receivers hear.
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
