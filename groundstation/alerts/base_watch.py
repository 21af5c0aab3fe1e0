"""How base itself is watched: targets are told that it is up, and an address is asked."""

import urllib.parse
from dataclasses import dataclass

from groundstation.errors import ConfigurationError
from groundstation.settings.secret import Secret


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchSettings:
    """``up_every_s``: how often every target is told that base is up, at the start first.

    ``heartbeat_url`` is asked every ``heartbeat_every_s`` as long as the station works.
    ``trouble_after_s``: what is wrong for so long is told.
    """

    up_every_s: float | None = None
    heartbeat_url: Secret | None = None
    heartbeat_every_s: float = 300.0
    trouble_after_s: float = 600.0

    def __post_init__(self) -> None:
        if self.up_every_s is not None and self.up_every_s < 60.0:
            raise ConfigurationError("watch.up_every_s is at least one minute")
        if self.heartbeat_every_s < 10.0:
            raise ConfigurationError("watch.heartbeat_every_s is at least 10 s")
        if self.heartbeat_url is not None:
            parts = urllib.parse.urlsplit(self.heartbeat_url.reveal())
            if parts.scheme not in ("http", "https") or not parts.netloc:
                raise ConfigurationError("watch.heartbeat_url is not an http or https address")
