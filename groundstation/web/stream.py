"""The state told as it changes, to pages that stay open (server-sent events, WHATWG HTML 9.2).

``state`` is all of it, ``change`` what is different since the last (see ``lean``), ``trail`` a
piece of a track or of how a landing moved. All pages get the same bytes, made once. Who is slow, or
comes back after having been away, gets the state again and the pieces of trails that it lacks: the
id of an event says what it knew.
"""

import asyncio
import logging
import secrets
from collections.abc import Callable
from contextlib import suppress
from typing import Final

from aiohttp import hdrs, web

from groundstation.httpd import Routes
from groundstation.jsonout import JsonObject, line
from groundstation.schema.encode import record_json
from groundstation.web.snapshot import StationSnapshot
from groundstation.web.state_changes import change, lean
from groundstation.web.trails import Trails

log = logging.getLogger(__name__)

EVERY_S: Final = 1.0  # own choice: one look a second for all
MOST_PAGES: Final = 200  # own choice: what benchmarks.load tries
SLOWEST_S: Final = 20.0
"""A page that takes nothing for so long is hung up on; it will come back. Own choices."""


class Stream:
    """``still_may`` says of a request whether who sent it may still look."""

    def __init__(
        self,
        snapshot: Callable[[], StationSnapshot],
        still_may: Callable[[web.Request], bool] = lambda _request: True,
    ) -> None:
        self._snapshot = snapshot
        self._still_may = still_may
        self._boot = secrets.token_hex(4)
        self._trails = Trails()
        self._state: JsonObject = {}
        self._latest = b""
        self._turn = 0
        self._pages = 0
        self._next: asyncio.Future[None] | None = None

    def add_to(self, routes: Routes) -> None:
        routes.add("GET", "/api/stream", self._answer)

    async def run(self) -> None:
        """Tell whoever listens, until cancelled."""
        while True:
            await asyncio.sleep(EVERY_S)
            if self._pages:
                try:
                    self._look()
                except Exception:
                    # The open pages grow old and show it; what is being received matters more.
                    log.exception("the page's state could not be told")

    def _look(self) -> None:
        snapshot = self._snapshot()
        known = self._trails.serial
        self._trails.look(snapshot)
        state = lean(record_json(snapshot))
        trails = [("trail", trail) for trail in self._trails.since(known)]
        self._latest = self._events([*trails, ("change", change(self._state, state))])
        self._state = state
        self._turn += 1
        if self._next is not None:
            self._next.set_result(None)
            self._next = None

    def _all(self, serial: int) -> bytes:
        """For one who knows the trails up to ``serial``."""
        trails = [("trail", trail) for trail in self._trails.since(serial)]
        return self._events([("state", self._state), *trails])

    def _events(self, events: list[tuple[str, JsonObject]]) -> bytes:
        text = "".join(f"event: {name}\ndata: {line(data)}\n" + "\n" for name, data in events)
        # The id stands in the last one, so that a piece that was cut off is told again.
        head, _, last = text.rpartition("event: ")
        return f"{head}id: {self._boot}-{self._trails.serial}\nevent: {last}".encode()

    async def _answer(self, request: web.Request) -> web.StreamResponse:
        if self._pages >= MOST_PAGES:
            raise web.HTTPServiceUnavailable(text="too many pages are open; try again later\n")
        answer = web.StreamResponse(
            headers={hdrs.CONTENT_TYPE: "text/event-stream", "X-Accel-Buffering": "no"}
        )
        await answer.prepare(request)
        if request.method == "HEAD":
            return answer
        self._pages += 1
        # The page is gone, or too slow.
        with suppress(ConnectionError, TimeoutError):
            try:
                await self._tell(request, answer)
            finally:
                self._pages -= 1
        return answer

    async def _tell(self, request: web.Request, answer: web.StreamResponse) -> None:
        serial = self._known_to(request)
        if self._pages == 1:
            # Nobody listened, so nothing was looked at.
            self._look()
        turn = -1
        while self._still_may(request):
            data = self._latest if turn == self._turn - 1 else self._all(serial)
            turn, serial = self._turn, self._trails.serial
            async with asyncio.timeout(SLOWEST_S):
                await answer.write(data)
            while turn == self._turn:
                if self._next is None:
                    self._next = asyncio.get_running_loop().create_future()
                await asyncio.shield(self._next)

    def _known_to(self, request: web.Request) -> int:
        event_id = request.headers.get("Last-Event-ID") or request.query.get("after", "")
        boot, _, serial = event_id.partition("-")
        known = boot == self._boot and serial.isascii() and serial.isdigit() and len(serial) < 12
        return int(serial) if known else 0
