"""A rehearsal held, hurried and run ahead, from the page."""

from typing import Final, Protocol

from aiohttp import web

from groundstation.httpd import Routes
from groundstation.web.actions import figure, json_body, may_act

FASTEST: Final = 200.0  # own choice: a flight in under a minute
FURTHEST_S: Final = 6 * 3600.0  # own choice: longer than any rehearsal


class RehearsalDesk(Protocol):
    """The clock of a rehearsal."""

    def set_speed(self, speed: float) -> None:
        """From now on so many times real time; 0 holds it."""

    def run_ahead(self, by_s: float) -> None:
        """Hurry to so much later, leaving nothing out; then go on as before."""


class RehearsalPages:
    def __init__(self, desk: RehearsalDesk) -> None:
        self._desk = desk

    def add_to(self, routes: Routes) -> None:
        routes.add("POST", "/api/rehearsal", self._change)

    async def _change(self, request: web.Request) -> web.Response:
        may_act(request)
        body = await json_body(request)
        try:
            speed, ahead_s = figure(body, "speed", -1.0), figure(body, "ahead_s", -1.0)
        except ValueError as error:
            raise web.HTTPUnprocessableEntity(text=f"{error}\n") from error
        if 0.0 <= speed <= FASTEST:
            self._desk.set_speed(speed)
        elif 0.0 < ahead_s <= FURTHEST_S:
            self._desk.run_ahead(ahead_s)
        else:
            raise web.HTTPUnprocessableEntity(
                text=f'give {{"speed": 0 to {FASTEST:.0f}}}, or {{"ahead_s": up to '
                f"{FURTHEST_S:.0f}}}\n"
            )
        return web.json_response({})
