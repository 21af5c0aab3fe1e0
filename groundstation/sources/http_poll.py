"""Positions that we fetch from a web service, at intervals that follow the flight.

We ask politely: with what the server gave us to tell whether anything is new (ETag and
Last-Modified, RFC 9110 section 13), and no faster than it says (Retry-After). What has not changed
is not kept again.
"""

import asyncio
import base64
import hashlib
import re
import urllib.parse
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from typing import Final, Literal

import aiohttp

from groundstation.clock import Clock
from groundstation.decoders.build import DecoderSettings
from groundstation.decoders.feeds import MAX_FEED_BYTES, FeedForm, FeedSettings, network_links
from groundstation.errors import ConfigurationError, SourceError
from groundstation.records import Frame
from groundstation.settings.secret import Secret
from groundstation.sources.health import HealthRecorder
from groundstation.sources.pace import Pace
from groundstation.sources.source import Emit

TIMEOUT_S: Final = 30.0  # own choice: a slow service is not a dead one
LEAST_S: Final = 5.0  # own choice: services do not like to be asked more often
LONGEST_WAIT_S: Final = 900.0  # own choice: a service that asks for more is not believed
MOST_HOPS: Final = 5  # own choice, against links in a circle
REDIRECTIONS: Final = (301, 302, 303, 307, 308)
"""RFC 9110 section 15.4."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedSecret:
    """A header, or a part of the query, that the service wants."""

    name: str
    value: Secret


@dataclass(frozen=True, slots=True, kw_only=True)
class HttpPollSettings:
    """What to fetch, every ``interval_s``, and every ``descent_s`` while something falls.

    ``token`` is sent as ``Authorization: Bearer``, ``username`` and ``password`` as ``Basic`` (RFC
    7617), each ``header`` and each part of ``query`` as the service wants it. Links of a KML file
    are followed on the same host.
    """

    kind: Literal["http-poll"] = "http-poll"
    name: str
    url: str
    decoder: DecoderSettings
    interval_s: float = 60.0
    descent_s: float = 15.0
    token: Secret | None = None
    username: str = ""
    password: Secret | None = None
    header: tuple[NamedSecret, ...] = ()
    query: tuple[NamedSecret, ...] = ()


@dataclass(slots=True)
class _Known:
    """What we know of one address."""

    etag: str = ""
    modified: str = ""
    digest: bytes = b""
    links: list[str] = field(default_factory=list)


class HttpPollSource:
    """Asks while it runs. Raises ``ConfigurationError`` for settings that cannot work."""

    def __init__(self, settings: HttpPollSettings, clock: Clock, pace: Pace) -> None:
        _check(settings)
        self.name = settings.name
        self._settings = settings
        self._clock = clock
        self._pace = pace
        self._known: dict[str, _Known] = {}

    async def run(self, emit: Emit, health: HealthRecorder) -> None:
        """Ask until a question fails. Raises ``SourceError``, saying why."""
        headers = {"User-Agent": "groundstation"}
        if self._settings.token is not None:
            headers["Authorization"] = f"Bearer {self._settings.token.reveal()}"
        if self._settings.password is not None:
            pair = f"{self._settings.username}:{self._settings.password.reveal()}"
            headers["Authorization"] = f"Basic {base64.b64encode(pair.encode()).decode()}"
        headers |= {header.name: header.value.reveal() for header in self._settings.header}
        timeout = aiohttp.ClientTimeout(total=TIMEOUT_S)
        async with aiohttp.ClientSession(headers=headers, timeout=timeout) as client:
            while True:
                wait_s = await self._fetch(client, self._settings.url, emit, health)
                for link in self._known[self._settings.url].links:
                    await self._fetch(client, link, emit, health)
                health.opened()
                await asyncio.sleep(max(wait_s, self._interval_s()))

    def _interval_s(self) -> float:
        settings = self._settings
        return settings.descent_s if self._pace.hurried else settings.interval_s

    def _with_query(self, url: str) -> str:
        more = [(part.name, part.value.reveal()) for part in self._settings.query]
        if not more:
            return url
        parts = urllib.parse.urlsplit(url)
        query = "&".join(filter(None, (parts.query, urllib.parse.urlencode(more))))
        return urllib.parse.urlunsplit(parts._replace(query=query))

    async def _fetch(
        self, client: aiohttp.ClientSession, url: str, emit: Emit, health: HealthRecorder
    ) -> float:
        """Fetch once; returns how long the server wants us to wait."""
        known = self._known.setdefault(url, _Known())
        asked = {}
        if known.etag:
            asked["If-None-Match"] = known.etag
        if known.modified:
            asked["If-Modified-Since"] = known.modified
        host = urllib.parse.urlsplit(url).netloc
        try:
            async with _got(client, self._with_query(url), asked) as answer:
                wait_s = _retry_after_s(answer.headers.get("Retry-After", ""))
                if answer.status == 304:
                    return wait_s
                if answer.status in (429, 503) and wait_s > 0.0:
                    return wait_s
                if answer.status in (401, 403):
                    raise SourceError(
                        "{host} refuses us ({status}); look at token, username and password, header"
                        " and query of this source",
                        host=host,
                        status=answer.status,
                    )
                if answer.status != 200:
                    status = f"{answer.status} {answer.reason}"
                    raise SourceError("{host} answered {status}", host=host, status=status)
                body = await _limited(answer)
                known.etag = answer.headers.get("ETag", "")
                known.modified = answer.headers.get("Last-Modified", "")
        except TimeoutError as error:
            raise SourceError(
                "{host} did not answer in {seconds} s", host=host, seconds=round(TIMEOUT_S)
            ) from error
        except aiohttp.ClientConnectorCertificateError as error:
            raise SourceError(
                "{host} proves itself by a certificate that is not trusted here; look at the"
                " address and the clock",
                host=host,
            ) from error
        except aiohttp.ClientConnectorSSLError as error:
            raise SourceError(
                "{host} speaks no TLS on that port; write http:// for it", host=host
            ) from error
        except (aiohttp.ServerDisconnectedError, aiohttp.ClientResponseError) as error:
            if url.startswith("http:"):
                raise SourceError(
                    "{host} closed the connection without an answer; a port with TLS wants https://",
                    host=host,
                ) from error
            raise SourceError(
                "{host} closed the connection without an answer", host=host
            ) from error
        except (aiohttp.ClientError, OSError) as error:
            raise SourceError(
                "{where} can't be reached ({why})", where=host, why=type(error).__name__
            ) from error
        digest = hashlib.sha256(body).digest()
        if digest != known.digest:
            known.digest = digest
            known.links = self._links(url, body)
            if not known.links:
                frame = Frame(
                    source=self.name, received_utc=self._clock.now_utc(), data=body, receiver=host
                )
                health.received(frame)
                await emit(frame)
        return wait_s

    def _links(self, url: str, body: bytes) -> list[str]:
        decoder = self._settings.decoder
        if not isinstance(decoder, FeedSettings) or decoder.form is not FeedForm.KML:
            return []
        here = urllib.parse.urlsplit(self._settings.url)
        links = [urllib.parse.urljoin(url, link) for link in network_links(body)]
        return [
            link
            for link in links
            if link != url and urllib.parse.urlsplit(link)[:2] == (here.scheme, here.netloc)
        ]


@asynccontextmanager
async def _got(
    client: aiohttp.ClientSession, url: str, asked: dict[str, str]
) -> AsyncIterator[aiohttp.ClientResponse]:
    """The answer, after redirections on the same host: one elsewhere might lead to what only this
    machine can reach, and would be told the token. Raises ``SourceError``."""
    for _ in range(MOST_HOPS):
        async with client.get(url, headers=asked, allow_redirects=False) as answer:
            where = answer.headers.get("Location")
            if answer.status not in REDIRECTIONS or where is None:
                yield answer
                return
        here, url = urllib.parse.urlsplit(url), urllib.parse.urljoin(url, where)
        there = urllib.parse.urlsplit(url)
        if (there.scheme, there.netloc) != (here.scheme, here.netloc):
            address = f"{there.scheme}://{there.netloc}"
            raise SourceError(
                "{host} sends us on to {address}; redirections to another place are not followed:"
                " if it is right, give that address as url",
                host=here.netloc,
                address=address,
            )
    raise SourceError("{host} sends us on and on", host=urllib.parse.urlsplit(url).netloc)


async def _limited(answer: aiohttp.ClientResponse) -> bytes:
    body = await answer.content.read(MAX_FEED_BYTES + 1)
    while len(body) <= MAX_FEED_BYTES and (more := await answer.content.read(1 << 16)):
        body += more
    return body


def _retry_after_s(text: str) -> float:
    return min(float(text), LONGEST_WAIT_S) if text.isascii() and text.isdigit() else 0.0


def _check(settings: HttpPollSettings) -> None:
    parts = urllib.parse.urlsplit(settings.url)
    if parts.scheme not in ("http", "https") or not parts.netloc:
        raise ConfigurationError(f"url: {settings.url!r} is not an http or https address")
    if (settings.password is None) != (not settings.username):
        raise ConfigurationError("username and password go together; one of them is missing")
    if settings.token is not None and settings.password is not None:
        raise ConfigurationError("token and password are two ways of logging in; take one of them")
    for pair in (*settings.header, *settings.query):
        if not re.fullmatch(r"[A-Za-z0-9._\[\]-]{1,100}", pair.name):
            raise ConfigurationError(
                f"{pair.name!r} is no name of a header or of a part of a query"
            )
    if parts.username is not None or parts.password is not None:
        raise ConfigurationError("url: no password may stand there; use token")
    if min(settings.interval_s, settings.descent_s) < LEAST_S:
        raise ConfigurationError(f"interval_s and descent_s are at least {LEAST_S:.0f} s")
