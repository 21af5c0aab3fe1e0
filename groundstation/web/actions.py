"""What somebody may do by the page, and not only see."""

import asyncio
import json
from collections.abc import Awaitable, Callable
from typing import Any

from aiohttp import web

from groundstation.httpd import BODY_S, Routes
from groundstation.web.door import WHO
from groundstation.web.login import from_here
from groundstation.web.settings import Role


class Actions:
    """``acknowledge`` takes the key of an alert, and says whether there is one."""

    def __init__(self, acknowledge: Callable[[str], Awaitable[bool]]) -> None:
        self._acknowledge = acknowledge

    def add_to(self, routes: Routes) -> None:
        routes.add("POST", "/api/acknowledge", self._seen)

    async def _seen(self, request: web.Request) -> web.Response:
        may_act(request)
        key = (await json_body(request)).get("key")
        if not isinstance(key, str):
            raise web.HTTPUnprocessableEntity(text='give {"key": "..."} of an alert\n')
        if not await self._acknowledge(key):
            raise web.HTTPNotFound(text="there is no such alert\n")
        return web.json_response({"seen": key})


def may_act(request: web.Request) -> None:
    """Refuse whoever may only look, and whatever another site has sent."""
    from_here(request)
    if request[WHO].role is not Role.FULL:
        raise web.HTTPForbidden(text="This token may only look.\n")


def figure(body: dict[str, Any], name: str, otherwise: float | None = None) -> float:
    """A number of the body, which true and false are not. Raises ``ValueError`` with a sentence."""
    given = body.get(name, otherwise)
    if isinstance(given, bool) or not isinstance(given, int | float):
        raise ValueError(f"{name} must be given as a number")
    try:
        return float(given)
    except OverflowError as error:
        raise ValueError(f"{name} is too large a number") from error


async def json_body(request: web.Request) -> dict[str, Any]:
    """The body, which must say that it is JSON: a plain form of another site can't."""
    if request.content_type != "application/json":
        raise web.HTTPUnsupportedMediaType(text="send application/json\n")
    try:
        async with asyncio.timeout(BODY_S):
            body = json.loads(await request.read())
    except (ValueError, RecursionError, TimeoutError):
        body = None
    if not isinstance(body, dict):
        raise web.HTTPUnprocessableEntity(text="this is no JSON object\n")
    return body
