"""Who comes in: tokens, sessions, and how often somebody may be wrong.

A token comes as ``Authorization: Bearer``, or once over the login page, which gives a session in a
cookie. Tokens and sessions are kept as their SHA-256 only, and compared in constant time. A token
holds 160 random bits, so a hash that is quick to make is enough.
"""

import hashlib
import hmac
import secrets
from collections import OrderedDict, deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from aiohttp import hdrs, web

from groundstation.language.catalogue import _
from groundstation.web.settings import AccessSettings, Role

SESSION_S: Final = 14 * 86_400.0  # own choice: from the setup to the flight day, not for ever
MOST_SESSIONS: Final = 1_000  # own choice: more than a crew opens in two weeks
COOKIE: Final = "groundstation-session"
WRONG_AT_MOST: Final = 10  # own choice: typing errors, no guessing
WRONG_OVER_S: Final = 60.0  # see WRONG_AT_MOST
REMEMBERED_ADDRESSES: Final = 10_000
"""Own choices; a person mistypes a few times, and a flood must not fill the memory."""

ANYBODY: Final = ("/login", "/healthz", "/worker.js", "/app.webmanifest")
ANYBODYS: Final = ("/static/", "/look/")

WHO: Final[web.RequestKey["Visitor"]] = web.RequestKey("who")


@dataclass(frozen=True, slots=True)
class Visitor:
    """Who asks, and what that one may do. The owner at the machine itself is ``name`` "".
    ``by_link`` is one who came by a link that was shared."""

    name: str
    role: Role
    by_link: bool = False


@dataclass(frozen=True, slots=True)
class _Session:
    visitor: Visitor
    until_s: float


class Door:
    """``clock`` gives monotonic seconds. ``shared`` holds the SHA-256 of each shared link, by the
    name of whom it is for. Without ``access`` everybody may do everything: then only
    this machine is served."""

    def __init__(self, access: Sequence[AccessSettings], clock: Callable[[], float]) -> None:
        self._access = tuple(access)
        self._clock = clock
        self.shared: dict[str, str] = {}
        self._sessions: OrderedDict[str, _Session] = OrderedDict()
        self._wrong: OrderedDict[str, deque[float]] = OrderedDict()

    @property
    def open(self) -> bool:
        return not self._access

    def visitor(self, request: web.Request) -> Visitor | None:
        """Who this is; None for a stranger. Raises ``HTTPTooManyRequests`` for one who keeps on
        guessing."""
        if self.open:
            return Visitor("", Role.FULL)
        known = self._of_session(request.cookies.get(COOKIE, ""))
        if known is not None:
            return known
        scheme, _, token = request.headers.get(hdrs.AUTHORIZATION, "").partition(" ")
        if scheme.lower() != "bearer":
            return None
        return self.of_token(token, request.remote or "")

    def of_token(self, token: str, address: str) -> Visitor | None:
        """Who has this token; wrong ones are counted against ``address``."""
        given = _hashed(token.strip())
        found = None
        for entry in self._access:
            if hmac.compare_digest(given, entry.token_hash):
                found = Visitor(entry.name, entry.role)
        if found is None:
            self._count_wrong(address)
        return found

    def of_share(self, token: str, address: str) -> Visitor | None:
        """Who has this link; wrong ones are counted against ``address``."""
        given = _hashed(token)
        found = None
        for name, hashed in self.shared.items():
            if hmac.compare_digest(given, hashed):
                found = Visitor(name, Role.LOOK, by_link=True)
        if found is None:
            self._count_wrong(address)
        return found

    def end_shared(self, name: str) -> None:
        """Whoever came by this link is out."""
        gone = Visitor(name, Role.LOOK, by_link=True)
        for hashed in [session for session, it in self._sessions.items() if it.visitor == gone]:
            del self._sessions[hashed]

    def still(self, request: web.Request) -> bool:
        """Whether one who was let in may stay."""
        if self.open or self._of_session(request.cookies.get(COOKIE, "")) is not None:
            return True
        # A token can only be taken back with a new start.
        return hdrs.AUTHORIZATION in request.headers

    def begin(self, visitor: Visitor) -> str:
        """A new session; gives what goes into the cookie."""
        secret = secrets.token_urlsafe(24)
        self._sessions[_hashed(secret)] = _Session(visitor, self._clock() + SESSION_S)
        while len(self._sessions) > MOST_SESSIONS:
            self._sessions.popitem(last=False)
        return secret

    def end(self, request: web.Request) -> None:
        self._sessions.pop(_hashed(request.cookies.get(COOKIE, "")), None)

    def _of_session(self, secret: str) -> Visitor | None:
        session = self._sessions.get(_hashed(secret))
        if session is None or session.until_s < self._clock():
            return None
        return session.visitor

    def _refuse_guesser(self, address: str) -> None:
        """Asked only where a token is wrong: whoever has a right one is let in however often others
        of the same address, behind a proxy say, were wrong. 160 bits are not guessed sooner."""
        times = self._wrong.get(address)
        now = self._clock()
        while times and now - times[0] > WRONG_OVER_S:
            times.popleft()
        if times and len(times) >= WRONG_AT_MOST:
            raise web.HTTPTooManyRequests(
                text=_("Too many wrong tokens; wait a minute.") + "\n",
                headers={hdrs.RETRY_AFTER: f"{WRONG_OVER_S:.0f}"},
            )

    def _count_wrong(self, address: str) -> None:
        self._refuse_guesser(address)
        times = self._wrong.setdefault(address, deque(maxlen=WRONG_AT_MOST))
        times.append(self._clock())
        self._wrong.move_to_end(address)
        while len(self._wrong) > REMEMBERED_ADDRESSES:
            self._wrong.popitem(last=False)


def new_token() -> tuple[str, str]:
    """A token and its SHA-256."""
    token = secrets.token_urlsafe(20)
    return token, _hashed(token)


def _hashed(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()
