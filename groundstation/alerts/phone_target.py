"""Messages to phones by web push, each phone a target of its own."""

import asyncio
import hashlib
import json
import logging
import os
import ssl
import time
from collections.abc import Mapping, Sequence
from typing import Final

import aiohttp
from cryptography.hazmat.primitives.asymmetric import ec

from groundstation.alerts import webpush
from groundstation.alerts.phones import Phone, Phones, PhonesSettings
from groundstation.alerts.services import ATTEMPT_S, UncertainDeliveryError
from groundstation.errors import ConfigurationError, DeliveryError
from groundstation.flight.alert_records import Message
from groundstation.language.catalogue import _, said
from groundstation.records import AlertKind, Urgency

log = logging.getLogger(__name__)

PASS_S: Final = 12 * 3_600.0  # RFC 8292 section 2 allows a day; half of it forgives a clock
TEST_TTL_S: Final = 300  # own choice: a test that comes later only puzzles
GONE: Final = (404, 410)
"""The phone has ended its subscription (RFC 8030 section 7.3)."""

_URGENCY: Final = {Urgency.QUIET: "low", Urgency.NORMAL: "normal", Urgency.HIGH: "high"}
"""RFC 8030 section 5.3."""


class PhoneTarget:
    """One phone. ``gone`` is called when its push service says that it is no more."""

    def __init__(self, phone: Phone, desk: "PhoneDesk") -> None:
        self.name = phone.name
        self.kinds: tuple[AlertKind, ...] = desk.settings.kinds
        self.phone = phone
        self._desk = desk

    async def deliver(self, message: Message) -> None:
        alert = message.alert
        headers = {
            "TTL": f"{max(0, int(alert.useful_for_s))}",
            "Urgency": _URGENCY[alert.urgency],
        }
        tag = alert.key.text
        if alert.thread:
            # What was not fetched yet is replaced by what is newer (RFC 8030 section 5.4).
            tag = f"{alert.payload}/{alert.thread}"
            digest = hashlib.sha256(tag.encode("utf-8", "replace")).digest()
            headers["Topic"] = webpush.packed(digest)[:32]
        shown = {"link": message.link, "tag": tag, "urgent": alert.urgency is Urgency.HIGH}
        await self._desk.send(self.phone, message.title, message.body, shown, headers)


class PhoneDesk:
    """The phones that are told: takes what the page asks, and gives the targets.

    A ``Joining`` of ``alerts/delivery.py``. Made in a thread, since it reads files. Raises
    ``ConfigurationError``.
    """

    def __init__(self, settings: PhonesSettings, phones: Phones, timezone: str) -> None:
        self.settings = settings
        self.changed = asyncio.Event()
        self._phones = phones
        self.patience = settings.patience(timezone)
        self._targets: dict[Phone, PhoneTarget] = {}
        try:
            self._tls = ssl.create_default_context(cafile=settings.ca_file)
        except (OSError, ssl.SSLError) as error:
            raise ConfigurationError(
                f"phones.ca_file {settings.ca_file} can't be used: {error}"
            ) from error
        self._look()

    @property
    def key(self) -> str:
        """What a browser must be given to ask its push service (RFC 8292 section 4)."""
        return webpush.packed(webpush.point(self._phones.key.public_key()))

    def targets(self) -> Sequence[PhoneTarget]:
        return tuple(self._targets.values())

    async def add(self, name: str, endpoint: str, key: str, secret: str) -> tuple[str, str]:
        """Keep a phone and send it a test: its name, and what kept the test from going out.

        Raises ``ValueError`` with a sentence, and ``OSError``.
        """
        phone = await asyncio.to_thread(self._phones.add, name, endpoint, key, secret)
        self._look()
        headers = {"TTL": f"{TEST_TTL_S}", "Urgency": "high"}
        shown = {"link": "", "tag": "test", "urgent": False}
        body = _("Alerts of this station come here from now on. Nothing has happened.")
        try:
            await self.send(phone, _("This phone will be told"), body, shown, headers)
        except DeliveryError as error:
            return phone.name, said(error.words)
        return phone.name, ""

    async def remove(self, endpoint: str) -> str | None:
        """Forget a phone: its name. Raises ``OSError``."""
        gone = await asyncio.to_thread(self._phones.remove, endpoint)
        self._look()
        return None if gone is None else gone.name

    async def send(
        self,
        phone: Phone,
        title: str,
        body: str,
        shown: Mapping[str, object],
        headers: Mapping[str, str],
    ) -> None:
        """Raises ``DeliveryError``, whose text names no address: that is a secret of the phone."""
        sealed = webpush.encrypted(
            message_json(title, body, shown),
            webpush.unpacked(phone.key),
            webpush.unpacked(phone.secret),
            sender=ec.generate_private_key(ec.SECP256R1()),
            salt=os.urandom(webpush.SALT_BYTES),
        )
        until_utc = time.time() + PASS_S
        sent = {
            **headers,
            "Content-Encoding": "aes128gcm",
            "Content-Type": "application/octet-stream",
            "Authorization": webpush.vapid(
                self._phones.key, phone.origin, self.settings.contact, until_utc
            ),
        }
        limit = aiohttp.ClientTimeout(total=ATTEMPT_S)
        try:
            async with (
                aiohttp.ClientSession(timeout=limit) as client,
                client.post(
                    phone.endpoint, data=sealed, headers=sent, ssl=self._tls, allow_redirects=False
                ) as answer,
            ):
                status = answer.status
        except aiohttp.ClientConnectorError as error:
            raise DeliveryError("no connection to the phone's push service") from error
        except TimeoutError as error:
            raise UncertainDeliveryError("no answer in time; it may have arrived") from error
        except (aiohttp.ClientError, OSError) as error:
            raise UncertainDeliveryError("the connection broke; it may have arrived") from error
        if status in GONE:
            log.warning("%s takes no messages any more and is forgotten", phone.name)
            await self._forget(phone)
            raise DeliveryError("this phone takes no messages any more; ask anew on its page")
        if not 200 <= status < 300:
            raise DeliveryError("the phone's push service answered {status}", status=status)

    async def _forget(self, phone: Phone) -> None:
        try:
            await self.remove(phone.endpoint)
        except OSError as error:
            log.error("that %s is gone can't be written down: %s", phone.name, error)

    def _look(self) -> None:
        """One target for each phone; a phone that stays keeps its own."""
        known = self._targets
        self._targets = {
            phone: known.get(phone) or PhoneTarget(phone, self) for phone in self._phones.all
        }
        self.changed.set()


def message_json(title: str, body: str, shown: Mapping[str, object]) -> bytes:
    """What the page's worker shows, as JSON; a body that is too long is cut."""

    def written(part: str) -> bytes:
        return json.dumps({"title": title, "body": part, **shown}, ensure_ascii=False).encode(
            "utf-8", "replace"
        )

    whole = written(body)
    while len(whole) > webpush.MOST_BYTES and body:
        over = len(whole) - webpush.MOST_BYTES
        # A letter has up to four bytes, six where JSON escapes it.
        body = body[: -max(2, over // 6 + 2)].rstrip("…") + "…" if len(body) > 2 else ""
        whole = written(body)
    return whole
