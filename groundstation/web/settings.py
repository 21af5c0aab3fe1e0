"""Where the page is served."""

import ipaddress
from dataclasses import dataclass

from groundstation.errors import ConfigurationError


@dataclass(frozen=True, slots=True, kw_only=True)
class WebSettings:
    """The address of the page. ``port`` 0 takes a free one.

    Only the machine itself may be bound to: the page has no login yet. Anything else raises
    ``ConfigurationError``.
    """

    host: str = "127.0.0.1"
    port: int = 8080

    def __post_init__(self) -> None:
        if not is_loopback(self.host):
            raise ConfigurationError(
                f"web.host {self.host!r} would open the page to the network, and the page has no "
                "login yet; leave it at 127.0.0.1 and reach it through an SSH tunnel: "
                f"ssh -L 8080:127.0.0.1:{self.port or 8080} user@station, "
                "then open http://localhost:8080/"
            )
        if not 0 <= self.port <= 65_535:
            raise ConfigurationError(f"web.port {self.port} is not a port; give 1 to 65535")


def is_loopback(name: str) -> bool:
    """Whether a host name or address can only mean this machine."""
    bare = name[1:-1] if name.startswith("[") and name.endswith("]") else name
    if bare.lower() == "localhost":
        return True
    try:
        return ipaddress.ip_address(bare).is_loopback
    except ValueError:
        return False
