"""What people saw, over HTTP: told, and taken back."""

from datetime import UTC, datetime
from typing import Any, Final, Protocol

from aiohttp import web

from groundstation.flight.sighting_kinds import RANGES, SightingKind
from groundstation.httpd import Routes
from groundstation.schema.encode import record_json
from groundstation.schema.fields import told_name
from groundstation.web.actions import figure, json_body, may_act
from groundstation.web.door import WHO
from groundstation.web.sighting_records import SightingTold

LONGEST_NOTE: Final = 300  # own choice: a few sentences


class SightingDesk(Protocol):
    """Keeps what people saw. Each is on the disk, and weighed, before it is answered."""

    async def tell(
        self,
        payload: str,
        kind: SightingKind,
        facts: dict[str, float | None],
        *,
        at_utc: float | None,
        who: str,
        note: str,
    ) -> SightingTold | None:
        """``at_utc`` is None for now. None for a payload that there is not. Raises ``ValueError``
        with a sentence."""

    async def take_back(self, number: int, who: str) -> bool:
        """False where no flight has such a sighting."""


class SightingPages:
    def __init__(self, desk: SightingDesk) -> None:
        self._desk = desk

    def add_to(self, routes: Routes) -> None:
        routes.add("POST", "/api/sightings", self._tell)
        routes.add("POST", "/api/sightings/take-back", self._take_back)

    async def _tell(self, request: web.Request) -> web.Response:
        may_act(request)
        given = await json_body(request)
        try:
            kept = await self._desk.tell(
                _text(given, "payload"),
                SightingKind(_text(given, "kind")),
                facts_given(given),
                at_utc=_moment(given.get("at")),
                who=request[WHO].name,
                note=_text(given, "note", "")[:LONGEST_NOTE],
            )
        except ValueError as error:
            raise web.HTTPUnprocessableEntity(text=f"{error}\n") from error
        if kept is None:
            raise web.HTTPNotFound(text="there is no such payload\n")
        return web.json_response(record_json(kept))

    async def _take_back(self, request: web.Request) -> web.Response:
        may_act(request)
        given = (await json_body(request)).get("number")
        if isinstance(given, bool) or not isinstance(given, int) or not 0 < given < 2**53:
            raise web.HTTPUnprocessableEntity(text='give {"number": N} of a sighting\n')
        if not await self._desk.take_back(given, request[WHO].name):
            raise web.HTTPNotFound(text="there is no such sighting\n")
        return web.json_response({"number": given})


def facts_given(body: dict[str, Any]) -> dict[str, float | None]:
    """The figures of a body, by the names of the records. Raises ``ValueError``."""
    return {
        name: figure(body, told_name(name))
        for name in RANGES
        if body.get(told_name(name)) is not None
    }


def _text(body: dict[str, Any], name: str, otherwise: str | None = None) -> str:
    given = body.get(name, otherwise)
    if not isinstance(given, str):
        raise ValueError(f"{name} must be given as text")
    return given


def _moment(given: object) -> float | None:
    """A time in UTC; None where none is given, which is now."""
    if given is None:
        return None
    try:
        moment = datetime.fromisoformat(given if isinstance(given, str) else "")
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise ValueError("at must be given as 2026-05-16T08:30:00Z; left out, it is now")
    return moment.astimezone(UTC).timestamp()
