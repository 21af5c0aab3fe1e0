"""Phones that ask on the page to be told by web push (W3C Push API)."""

from typing import Final, Protocol

from aiohttp import web

from groundstation.httpd import Routes
from groundstation.language.catalogue import N_, _
from groundstation.web.actions import json_body, may_act

NOT_SET: Final = N_(
    "Nobody is told by this page yet: add {section} with {line} to the configuration and start the"
    " station again. A rehearsal needs {option}."
)
SETTING: Final = {
    "section": "[phones]",
    "line": 'contact = "mailto:YOU@YOUR-HOST"',
    "option": "--tell-targets",
}


class PhoneDesk(Protocol):
    """Keeps the phones that are told. ``key`` is the station's own, in base64url."""

    @property
    def key(self) -> str: ...

    async def add(self, name: str, endpoint: str, key: str, secret: str) -> tuple[str, str]:
        """Keep a phone and send it a test: its name, and what kept the test from going out.

        Raises ``ValueError`` with a sentence, and ``OSError`` where the disk takes nothing.
        """

    async def remove(self, endpoint: str) -> str | None:
        """Forget a phone; None where it is not known. Raises ``OSError``."""


class PhonePages:
    """Without a ``desk`` it says what is missing."""

    def __init__(self, desk: PhoneDesk | None) -> None:
        self._desk = desk

    def add_to(self, routes: Routes) -> None:
        routes.add("GET", "/api/phones", self._key)
        routes.add("POST", "/api/phones", self._add)
        routes.add("POST", "/api/phones/forget", self._forget)

    async def _key(self, request: web.Request) -> web.Response:
        may_act(request)
        key = None if self._desk is None else self._desk.key
        return web.json_response(
            {"key": key, "missing": _(NOT_SET, **SETTING) if key is None else ""}
        )

    async def _add(self, request: web.Request) -> web.Response:
        may_act(request)
        desk = self._set()
        body = await json_body(request)
        name, endpoint, key, secret = (
            body.get(part) for part in ("name", "endpoint", "key", "secret")
        )
        if not (
            isinstance(name, str)
            and isinstance(endpoint, str)
            and isinstance(key, str)
            and isinstance(secret, str)
        ):
            raise web.HTTPUnprocessableEntity(
                text="give name, endpoint, key and secret, all of them texts\n"
            )
        try:
            called, trouble = await desk.add(name, endpoint, key, secret)
        except ValueError as error:
            raise web.HTTPUnprocessableEntity(text=f"{error}\n") from error
        except OSError as error:
            raise web.HTTPServiceUnavailable(text=_("The disk takes nothing.") + "\n") from error
        return web.json_response({"name": called, "trouble": trouble})

    async def _forget(self, request: web.Request) -> web.Response:
        may_act(request)
        desk = self._set()
        endpoint = (await json_body(request)).get("endpoint")
        try:
            name = await desk.remove(endpoint) if isinstance(endpoint, str) else None
        except OSError as error:
            raise web.HTTPServiceUnavailable(text=_("The disk takes nothing.") + "\n") from error
        if name is None:
            raise web.HTTPNotFound(text="there is no such phone\n")
        return web.json_response({"name": name})

    def _set(self) -> PhoneDesk:
        if self._desk is None:
            raise web.HTTPConflict(text=_(NOT_SET, **SETTING) + "\n")
        return self._desk
