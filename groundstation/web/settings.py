"""Where the page is served, and to whom."""

import ipaddress
import re
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from groundstation.errors import ConfigurationError

_HASH = re.compile(r"[0-9a-f]{64}")
_TILES = re.compile(r"https://[A-Za-z0-9.-]+(:\d+)?/[A-Za-z0-9._~{}/?=&%@-]*")


STANDARD_TILES = "https://tile.openstreetmap.org/{z}/{x}/{y}.png"
STANDARD_ATTRIBUTION = "© OpenStreetMap contributors"
"""The standard tiles of OpenStreetMap, by their usage policy (operations.osmfoundation.org): shown
with attribution, asked for by a person's browser as it looks, with a Referer, kept as their headers
say, and never fetched in bulk."""


class Role(StrEnum):
    """LOOK sees everything; FULL may also act."""

    LOOK = "look"
    FULL = "full"


@dataclass(frozen=True, slots=True, kw_only=True)
class AccessSettings:
    """Somebody who may come in with a token, of which only the SHA-256 is kept.

    ``groundstation token`` makes one. To take it back, remove the entry and start again.
    """

    name: str
    token_hash: str
    role: Role = Role.FULL

    def __post_init__(self) -> None:
        if not _HASH.fullmatch(self.token_hash):
            raise ConfigurationError(
                f"token_hash of {self.name!r} is not a SHA-256 in 64 hexadecimal digits; "
                "make one with: groundstation token"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class MapSettings:
    """What is drawn under the flight: ``*.pmtiles`` and ``*.mbtiles`` of ``folder``, and, in
    browsers whose person agreed, tiles from ``tiles``, an https address with {z}, {x} and {y},
    whose owner asks for ``attribution``; "" offers none.
    ``hazards`` is a GeoJSON file. Raises ``ConfigurationError``."""

    folder: Path | None = None
    tiles: str = STANDARD_TILES
    attribution: str = ""
    hazards: Path | None = None

    def __post_init__(self) -> None:
        if not self.tiles:
            return
        if not _TILES.fullmatch(self.tiles) or any(f"{{{k}}}" not in self.tiles for k in "zxy"):
            raise ConfigurationError(
                f"map.tiles {self.tiles!r} is no address of tiles; it must be like"
                " https://tiles.example.org/{z}/{x}/{y}.png"
            )
        if self.tiles != STANDARD_TILES and not self.attribution.strip():
            raise ConfigurationError(
                "map.attribution is missing; whoever gives out map tiles asks for a line that"
                " names them"
            )

    @property
    def credit(self) -> str:
        """Who is named where the tiles are shown."""
        return self.attribution or STANDARD_ATTRIBUTION

    @property
    def origin(self) -> str:
        """The scheme and host that the page must be let ask for tiles, or ""."""
        return "/".join(self.tiles.split("/")[:3])


@dataclass(frozen=True, slots=True, kw_only=True)
class WebSettings:
    """The address of the page. ``port`` 0 takes a free one.

    Beyond this machine somebody must be named in ``access``, and ``certificate`` and ``key`` (PEM)
    must be given for TLS, or ``plain_http`` for a reverse proxy that brings TLS, or a network of
    one's own. Raises ``ConfigurationError``.
    """

    host: str = "127.0.0.1"
    port: int = 8080
    access: tuple[AccessSettings, ...] = ()
    certificate: Path | None = None
    key: Path | None = None
    plain_http: bool = False

    def __post_init__(self) -> None:
        if not 0 <= self.port <= 65_535:
            raise ConfigurationError(f"web.port {self.port} is not a port; give 1 to 65535")
        if (self.certificate is None) != (self.key is None):
            raise ConfigurationError("web.certificate and web.key belong together; give both")
        names = [access.name for access in self.access]
        if len(set(names)) < len(names):
            raise ConfigurationError("web.access: two have the same name; give each its own")
        if is_loopback(self.host):
            return
        if not self.access:
            raise ConfigurationError(
                f"web.host {self.host!r} would open the page to everybody on the network; make a "
                "token with: groundstation token, and put its lines into the configuration. Or "
                "leave it at 127.0.0.1 and reach it through an SSH tunnel: "
                f"ssh -L 8080:127.0.0.1:{self.port or 8080} user@station, "
                "then open http://localhost:8080/"
            )
        if self.certificate is None and not self.plain_http:
            raise ConfigurationError(
                f"web.host {self.host!r} without TLS would show tokens to whoever listens; give "
                "web.certificate and web.key, or set web.plain_http = true behind a proxy that "
                "brings TLS or in a network of your own"
            )


def is_loopback(name: str) -> bool:
    """Whether a host name or address can only mean this machine."""
    bare = name[1:-1] if name.startswith("[") and name.endswith("]") else name
    if bare.lower() == "localhost":
        return True
    try:
        return ipaddress.ip_address(bare).is_loopback
    except ValueError:
        return False
