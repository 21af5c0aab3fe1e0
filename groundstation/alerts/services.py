"""One notification service, reached through apprise.

apprise costs 0.3 s to import, so that happens in the thread that builds the target. Its reasons for
a failure are log lines that may hold parts of an address; they are only used to choose among our
own sentences.
"""

import logging
import re
import threading
from collections.abc import Iterable, Mapping
from http import HTTPStatus
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import parse_qs, urlencode, urlsplit

from groundstation.alerts.service_plugin import service_of
from groundstation.errors import ConfigurationError, DeliveryError
from groundstation.flight.alert_records import Message
from groundstation.records import AlertKind, Urgency
from groundstation.settings.secret import Secret

if TYPE_CHECKING:
    from apprise import Apprise

CONNECT_S: Final = 10.0  # own choice: a slow mobile link
READ_S: Final = 30.0
"""How long a service may take, unless its address says otherwise (``cto=``, ``rto=``). Long,
because giving up on one that is only slow makes the message come twice."""

ATTEMPT_S: Final = 60.0
"""The whole of one attempt, so that the service's own limits are reached first."""

_NOT_REACHED: Final = (
    "NewConnectionError",
    "NameResolutionError",
    "ConnectTimeout",
    "Connection refused",
    "Name or service not known",
    "Temporary failure in name resolution",
    "No address associated",
    "Network is unreachable",
    "No route to host",
    "CERTIFICATE_VERIFY_FAILED",
)
_loading = threading.Lock()


class UncertainDeliveryError(DeliveryError):
    """The target said nothing, or too late: the message may have arrived."""


class ServiceTarget:
    """Delivers to the service at ``url``. Made in a thread; see ``build_targets``."""

    def __init__(self, name: str, url: Secret, kinds: tuple[AlertKind, ...] = ()) -> None:
        self.name = name
        self.kinds = kinds
        self._url = url
        self._apprise = _load(name, url)

    async def deliver(self, message: Message) -> None:
        import apprise  # noqa: PLC0415

        urgent = message.alert.urgency is Urgency.HIGH
        result = await self._dressed(message).async_notify(
            title=message.title,
            body=message.body,
            notify_type=apprise.NotifyType.WARNING if urgent else apprise.NotifyType.INFO,
            body_format=apprise.NotifyFormat.TEXT,
            timeout=ATTEMPT_S,
            log_level=logging.DEBUG,
        )
        if not result:
            lines = [entry.message for entry in result.logs()]
            raise failure(result.status.name, lines)

    @property
    def offered(self) -> Mapping[str, Any]:
        """The arguments that its address may have, as apprise describes them."""
        described: Mapping[str, Any] = self._apprise[0].template_args
        return described

    def _dressed(self, message: Message) -> "Apprise":
        """The service with what it can show of ``message`` beside its text."""
        more = extras(message, self.offered, self._url.reveal())
        return self._apprise if not more else _load(self.name, Secret(self._url.reveal() + more))


def extras(message: Message, offered: Mapping[str, Any], url: str) -> str:
    """What to add to ``url`` so that its service, which takes the arguments ``offered``, shows how
    urgent ``message`` is, opens its map at a touch and marks its kind. What stands in the address
    already is the person's choice."""
    wanted = {}
    if message.alert.urgency is not Urgency.NORMAL:
        wanted["priority"] = "high" if message.alert.urgency is Urgency.HIGH else "low"
    if message.link:
        wanted["click"] = message.link
        if offered.get("url", {}).get("map_to") == "supplemental_url":
            wanted["url"] = message.link
    wanted["xtags"] = str(message.alert.kind)
    taken = parse_qs(urlsplit(url).query, keep_blank_values=True)
    added = {name: value for name, value in wanted.items() if name in offered and name not in taken}
    return f"{'&' if '?' in url else '?'}{urlencode(added)}" if added else ""


def failure(status: str, lines: Iterable[str]) -> DeliveryError:
    """Our own words for what a service's log ``lines`` say; nothing of them is repeated.

    ``status`` is the outcome as apprise names it. Whether the message may have arrived decides
    between the two kinds of error; where that can't be told, it may have.
    """
    text = "\n".join(lines)
    if any(sign in text for sign in _NOT_REACHED):
        return DeliveryError("no connection to the service")
    if code := re.search(r"\berror=(\d{3})\b", text):
        return DeliveryError("the service answered {status}", status=_http(int(code[1])))
    if code := re.search(r"\(([45]\d\d), b['\"]", text):
        return DeliveryError("the mail server answered {status}", status=code[1])
    if status == "TIMEOUT" or re.search(r"timed? ?out", text, re.IGNORECASE):
        return UncertainDeliveryError("no answer in time; it may have arrived")
    if re.search(r"connection", text, re.IGNORECASE):
        return UncertainDeliveryError("the connection broke; it may have arrived")
    return DeliveryError("the service did not take it")


def _http(code: int) -> str:
    try:
        return f"{code} ({HTTPStatus(code).phrase})"
    except ValueError:
        return str(code)


def _load(name: str, url: Secret) -> "Apprise":
    with _loading:
        import apprise  # noqa: PLC0415

        _keep_reasons_private()
        held = apprise.Apprise()
        try:
            alone = service_of(url.reveal())
            usable = held.add(url.reveal() if alone is None else alone)
        except Exception:  # Its text may hold the address, so it is not shown.
            usable = False
    if not usable or len(held) != 1:
        raise ConfigurationError(
            f"the url of alert target {name!r} is not one that apprise can use; "
            "see its list of services for how it must look"
        )
    _set_limits(held[0])
    return held


def _set_limits(service: Any) -> None:
    # Its own pause between two messages (5.5 s for most) would hold up a burst of alerts, and
    # the outbox waits longer than that when a service says no.
    service.request_rate_per_sec = 0.0
    for limit, wanted_s in (("socket_connect_timeout", CONNECT_S), ("socket_read_timeout", READ_S)):
        usual_s = getattr(type(service), limit)
        if getattr(service, limit) == usual_s and usual_s < wanted_s:
            setattr(service, limit, wanted_s)


def _keep_reasons_private() -> None:
    # At the level of debugging its records tell a refused connection from a broken one. They
    # also hold addresses and texts, so they must not reach the station's own log.
    logger = logging.getLogger("apprise")
    logger.setLevel(logging.DEBUG)
    logger.propagate = False
    if not logger.handlers:
        logger.addHandler(logging.NullHandler())
    # Below it, the path of each request is logged, which with many services holds the token.
    logging.getLogger("urllib3").setLevel(logging.ERROR)
