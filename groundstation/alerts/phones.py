"""Phones that asked on the page to be told: kept in a file that only the station reads.

Beside them lies the key by which push services know this station. A phone is bound to that key:
where it is lost, every phone must ask anew.
"""

import json
import logging
import urllib.parse
from collections.abc import Collection, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from groundstation.errors import ConfigurationError
from groundstation.language.catalogue import _
from groundstation.records import AlertKind
from groundstation.settings.private_file import write_private
from groundstation.store.patience import Patience, quiet_time

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey

log = logging.getLogger(__name__)

KEY_NAME: Final = "push-key.pem"
PHONES_NAME: Final = "push-phones.json"
MOST: Final = 20  # own choice: a crew, and their old phones
LONGEST_NAME: Final = 30  # own choice: fits a line of the page
LONGEST_ADDRESS: Final = 1_024  # own choice: those of push services have about 200 letters


@dataclass(frozen=True, slots=True, kw_only=True)
class PhonesSettings:
    """Phones that are told by web push, once they asked for it on the page.

    ``contact`` is a mailto: or https: address, which every push service that is used learns
    (RFC 8292 section 2.1). ``ca_file`` is the authority of a push service of one's own. The rest is
    as for other targets.
    """

    contact: str
    kinds: tuple[AlertKind, ...] = ()
    quiet: str = ""
    most_an_hour: int | None = None
    ca_file: Path | None = None

    def __post_init__(self) -> None:
        scheme, _, rest = self.contact.partition(":")
        if scheme not in ("mailto", "https") or not rest.strip("/"):
            raise ConfigurationError(
                f"phones.contact {self.contact!r} is neither mailto:NAME@HOST nor an https address"
            )
        if self.most_an_hour is not None and self.most_an_hour < 1:
            raise ConfigurationError("phones.most_an_hour is at least 1")
        if self.quiet and quiet_time(self.quiet) is None:
            raise ConfigurationError(
                f'phones.quiet: {self.quiet!r} is not a time such as "22:00-06:00"'
            )

    def patience(self, timezone: str) -> Patience:
        return Patience(
            quiet=quiet_time(self.quiet),
            timezone=timezone,
            most_an_hour=self.most_an_hour,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Phone:
    """``endpoint`` is where its push service takes messages for it; ``key`` and ``secret`` are what
    only the phone can read them by, in base64url (RFC 8291 section 3.2)."""

    name: str
    endpoint: str
    key: str
    secret: str

    def __post_init__(self) -> None:
        # Loaded here so that a station without phones has no need of it.
        from groundstation.alerts import webpush  # noqa: PLC0415

        place = urllib.parse.urlsplit(self.endpoint)
        if place.scheme != "https" or not place.hostname or "@" in place.netloc:
            raise ValueError("the endpoint of a push service is an https address")
        if len(self.endpoint) > LONGEST_ADDRESS or not self.endpoint.isascii():
            raise ValueError("this is no endpoint of a push service")
        webpush.read_point(webpush.unpacked(self.key))
        if len(webpush.unpacked(self.secret)) != webpush.SECRET_BYTES:
            raise ValueError(f"the secret of a phone has {webpush.SECRET_BYTES} bytes")

    @property
    def origin(self) -> str:
        """The push service's scheme and host."""
        place = urllib.parse.urlsplit(self.endpoint)
        return f"{place.scheme}://{place.netloc}"


class Phones:
    """Those kept in ``folder``. ``taken`` are names that no phone may have.

    Raises ``ConfigurationError`` where the key can't be read or made.
    """

    def __init__(self, folder: Path, taken: Collection[str] = ()) -> None:
        self._path = folder / PHONES_NAME
        self._taken = frozenset(taken)
        self.key = own_key(folder / KEY_NAME)
        self._all = {phone.endpoint: phone for phone in _read(self._path)}

    @property
    def all(self) -> Sequence[Phone]:
        return tuple(self._all.values())

    def add(self, name: str, endpoint: str, key: str, secret: str) -> Phone:
        """Keep a phone; the same endpoint again keeps its name. Raises ``ValueError`` with a
        sentence, and ``OSError`` where it can't be written down."""
        known = self._all.get(endpoint)
        if known is None and len(self._all) >= MOST:
            raise ValueError(
                _("{most} phones are told already; let one of them forget it first.", most=MOST)
            )
        wanted = known.name if known is not None else self._free(name)
        phone = Phone(name=wanted, endpoint=endpoint, key=key, secret=secret)
        self._keep({**self._all, endpoint: phone})
        return phone

    def remove(self, endpoint: str) -> Phone | None:
        """Forget a phone. Raises ``OSError`` where that can't be written down."""
        gone = self._all.get(endpoint)
        if gone is not None:
            self._keep({kept: phone for kept, phone in self._all.items() if kept != endpoint})
        return gone

    def _free(self, name: str) -> str:
        wanted = f"phone {' '.join(name.split())[:LONGEST_NAME]}".strip()
        names = self._taken | {phone.name for phone in self._all.values()}
        numbered = (wanted if n == 1 else f"{wanted} {n}" for n in range(1, len(names) + 2))
        return next(candidate for candidate in numbered if candidate not in names)

    def _keep(self, phones: dict[str, Phone]) -> None:
        text = json.dumps([asdict(phone) for phone in phones.values()], indent=1)
        write_private(self._path, text.encode())
        self._all = phones


def own_key(path: Path) -> "EllipticCurvePrivateKey":
    """The key in ``path``, made where there is none. Raises ``ConfigurationError``."""
    from cryptography.hazmat.primitives.asymmetric import ec  # noqa: PLC0415
    from cryptography.hazmat.primitives.serialization import (  # noqa: PLC0415
        Encoding,
        NoEncryption,
        PrivateFormat,
        load_pem_private_key,
    )

    try:
        if not path.exists():
            made = ec.generate_private_key(ec.SECP256R1())
            pem = made.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
            path.parent.mkdir(parents=True, exist_ok=True)
            write_private(path, pem)
        key = load_pem_private_key(path.read_bytes(), None)
    except (OSError, ValueError, TypeError) as error:
        raise ConfigurationError(
            f"the key of web push {path} can't be used ({error}); remove it, start again, and let"
            " every phone ask anew"
        ) from error
    if not isinstance(key, ec.EllipticCurvePrivateKey) or key.curve.name != "secp256r1":
        raise ConfigurationError(f"the key of web push {path} is none of P-256; remove it")
    return key


def _read(path: Path) -> list[Phone]:
    """What was kept; what can't be read is told and left out."""
    if not path.is_file():
        return []
    try:
        return [Phone(**row) for row in json.loads(path.read_text("utf-8"))]
    except (OSError, ValueError, TypeError) as error:
        log.error("the phones in %s can't be read, let them ask anew: %s", path, error)
        return []
