"""The report of a flight on the page: made by the station, its progress told, fetched on the phone.

Whoever may act makes it; whoever may look, by a shared link too, reads it.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Final, Protocol

from aiohttp import hdrs, web

from groundstation.httpd import Routes
from groundstation.jsonout import JsonObject, iso_utc
from groundstation.language.catalogue import _
from groundstation.web.actions import json_body, may_act

POLICY: Final = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none';"
    " form-action 'none'; frame-ancestors 'none'"
)
"""The report is one file with its style in it, and without scripts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportState:
    """How far the report of a payload's newest flight is. ``step`` is what is being done, "" when
    nothing is; ``problem`` why the last try came to nothing. ``lesson`` is what the flight taught,
    as it may be kept; ``kept`` that it was."""

    step: str = ""
    made_utc: float | None = None
    problem: str = ""
    lesson: str = ""
    kept: bool = False


class ReportDesk(Protocol):
    """Makes reports in the background."""

    def state(self, payload: str) -> ReportState | None:
        """None for a payload that there is not."""

    def begin(self, payload: str, *, keep_lesson: bool) -> None:
        """Begin to make it; nothing while one is being made."""

    def file(self, payload: str) -> Path | None:
        """The report, where one was made."""


class ReportPages:
    def __init__(self, desk: ReportDesk) -> None:
        self._desk = desk

    def add_to(self, routes: Routes) -> None:
        routes.add("GET", "/api/report", self._state)
        routes.add("POST", "/api/report", self._make)
        routes.add("GET", "/report", self._report)

    async def _state(self, request: web.Request) -> web.Response:
        return web.json_response(self._told(request.query.get("payload", "")))

    async def _make(self, request: web.Request) -> web.Response:
        may_act(request)
        body = await json_body(request)
        payload, keep = body.get("payload"), body.get("keep_lesson", False)
        if not isinstance(payload, str) or not isinstance(keep, bool):
            raise web.HTTPUnprocessableEntity(
                text='give {"payload": "...", "keep_lesson": true or false}\n'
            )
        self._told(payload)
        self._desk.begin(payload, keep_lesson=keep)
        return web.json_response(self._told(payload))

    def _told(self, payload: str) -> JsonObject:
        state = self._desk.state(payload)
        if state is None:
            raise web.HTTPNotFound(text="there is no such payload\n")
        return {
            "payload": payload,
            "step": state.step,
            "made": iso_utc(state.made_utc),
            "problem": state.problem,
            "lesson": state.lesson,
            "kept": state.kept,
        }

    async def _report(self, request: web.Request) -> web.StreamResponse:
        payload = request.query.get("payload", "")
        self._told(payload)
        file = self._desk.file(payload)
        if file is None or not file.is_file():
            raise web.HTTPNotFound(text=_("No report of this flight was made yet.") + "\n")
        return web.FileResponse(
            file,
            headers={
                "Content-Security-Policy": POLICY,
                hdrs.CONTENT_TYPE: "text/html; charset=utf-8",
                hdrs.CONTENT_DISPOSITION: f'inline; filename="{file.name}"',
            },
        )
