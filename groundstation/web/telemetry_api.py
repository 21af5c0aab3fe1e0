"""What the trackers measured, over time, for the page's drawings."""

from collections.abc import Mapping, Sequence
from typing import Protocol

from aiohttp import web

from groundstation.httpd import Routes
from groundstation.jsonout import number


class TelemetryDesk(Protocol):
    """Knows what was sent beside the positions."""

    async def series(self, payload: str) -> Mapping[str, Sequence[tuple[float, float]]] | None:
        """(time in UTC, value) by the name of what was measured, in order of time; None for a
        payload that there is not."""


class TelemetryPages:
    def __init__(self, desk: TelemetryDesk) -> None:
        self._desk = desk

    def add_to(self, routes: Routes) -> None:
        routes.add("GET", "/api/telemetry", self._series)

    async def _series(self, request: web.Request) -> web.Response:
        payload = request.query.get("payload", "")
        series = await self._desk.series(payload)
        if series is None:
            raise web.HTTPNotFound(text="there is no such payload\n")
        listed = {
            name: [[number(at, 1), number(value, 4)] for at, value in points]
            for name, points in series.items()
        }
        answer = web.json_response({"payload": payload, "series": listed})
        answer.enable_compression()
        return answer
