"""Links to look on with, for helpers and friends: made on the page, and taken back there.

Of each link only the SHA-256 is kept, in a file beside the database, so that it outlives a restart.
"""

import json
import logging
import re
from pathlib import Path
from typing import Final

from aiohttp import hdrs, web

from groundstation.httpd import Routes
from groundstation.language.catalogue import _
from groundstation.web.actions import json_body, may_act
from groundstation.web.door import COOKIE, SESSION_S, Door, new_token
from groundstation.web.page_files import Pages

log = logging.getLogger(__name__)

MOST: Final = 50  # own choice: more links than helpers
LONGEST_NAME: Final = 40  # own choice: fits a line of the page
_HASH: Final = re.compile(r"[0-9a-f]{64}")


class Shares:
    """``path`` is where they are kept; None keeps them in memory only."""

    def __init__(self, door: Door, pages: Pages, path: Path | None, *, secure: bool) -> None:
        self._door = door
        self._pages = pages
        self._path = path
        self._secure = secure
        door.shared.update(_read(path))

    def add_to(self, routes: Routes) -> None:
        routes.add("GET", "/api/shares", self._list)
        routes.add("POST", "/api/shares", self._make)
        routes.add("POST", "/api/shares/take-back", self._take_back)
        routes.add("GET", "/look/{token}", self._come_in)

    async def _list(self, request: web.Request) -> web.Response:
        may_act(request)
        return web.json_response({"possible": not self._door.open, "names": [*self._door.shared]})

    async def _make(self, request: web.Request) -> web.Response:
        may_act(request)
        name = (await json_body(request)).get("name")
        if not isinstance(name, str) or not 0 < len(name.strip()) <= LONGEST_NAME:
            raise web.HTTPUnprocessableEntity(
                text=_("Say for whom it is, in at most {most} letters.", most=LONGEST_NAME) + "\n"
            )
        name = name.strip()
        if self._door.open:
            raise web.HTTPConflict(
                text=_(
                    "Only this machine can open the page, so there is nothing to share. See {host}"
                    " and {access} in the configuration.",
                    host="[web] host",
                    access="[[web.access]]",
                )
                + "\n"
            )
        if name in self._door.shared:
            raise web.HTTPConflict(
                text=_("There is a link of this name; take it back first.") + "\n"
            )
        if len(self._door.shared) >= MOST:
            raise web.HTTPConflict(
                text=_("There are {count} links; take one back first.", count=MOST) + "\n"
            )
        token, hashed = new_token()
        self._keep({**self._door.shared, name: hashed})
        return web.json_response({"name": name, "path": f"/look/{token}"})

    async def _take_back(self, request: web.Request) -> web.Response:
        may_act(request)
        name = (await json_body(request)).get("name")
        if not isinstance(name, str) or name not in self._door.shared:
            raise web.HTTPNotFound(text="there is no such link\n")
        self._keep({kept: hashed for kept, hashed in self._door.shared.items() if kept != name})
        self._door.end_shared(name)
        return web.json_response({"name": name})

    async def _come_in(self, request: web.Request) -> web.StreamResponse:
        visitor = self._door.of_share(request.match_info["token"], request.remote or "")
        if visitor is None:
            raise web.HTTPNotFound(text=_("This link is not known here, or was taken back.") + "\n")
        # A cookie of the kind Strict comes with what this page asks for, not with a redirection
        # that another site began.
        answer = web.Response(
            text=self._pages.html("welcome", name=visitor.name),
            content_type="text/html",
            headers={hdrs.REFERRER_POLICY: "no-referrer"},
        )
        answer.set_cookie(
            COOKIE,
            self._door.begin(visitor),
            max_age=int(SESSION_S),
            httponly=True,
            samesite="Strict",
            secure=self._secure,
        )
        return answer

    def _keep(self, shared: dict[str, str]) -> None:
        if self._path is not None:
            new = self._path.with_suffix(".new")
            try:
                new.write_text(json.dumps(shared), encoding="utf-8")
                new.chmod(0o600)
                new.replace(self._path)
            except OSError as error:
                log.error("%s can't be written: %s", self._path, error)
                raise web.HTTPServiceUnavailable(
                    text=_("The links can't be kept: the disk takes nothing.") + "\n"
                ) from error
        self._door.shared.clear()
        self._door.shared.update(shared)


def _read(path: Path | None) -> dict[str, str]:
    """What was kept. A file that can't be read lets nobody in, and is told."""
    if path is None or not path.is_file():
        return {}
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
        return {
            name: hashed
            for name, hashed in document.items()
            if isinstance(hashed, str) and _HASH.fullmatch(hashed)
        }
    except (OSError, ValueError, AttributeError) as error:
        log.error("the links in %s can't be read and let nobody in: %s", path, error)
        return {}
