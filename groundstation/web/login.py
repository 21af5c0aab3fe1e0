"""Coming in and going out."""

import urllib.parse
from collections.abc import Callable
from typing import Final

from aiohttp import hdrs, web
from aiohttp.typedefs import Middleware

from groundstation.httpd import Routes
from groundstation.language.catalogue import _
from groundstation.web.door import ANYBODY, ANYBODYS, COOKIE, SESSION_S, WHO, Door
from groundstation.web.guard import POLICY, Handler
from groundstation.web.page_files import Pages

LOGIN_POLICY: Final = POLICY.replace("form-action 'none'", "form-action 'self'")


def guarded(door: Door) -> Middleware:
    """Let in whoever may come in; a browser is shown where to say who it is."""

    @web.middleware
    async def ask_who(request: web.Request, handler: Handler) -> web.StreamResponse:
        if request.path in ANYBODY or request.path.startswith(ANYBODYS):
            return await handler(request)
        visitor = door.visitor(request)
        if visitor is None:
            if request.path == "/" and request.method == "GET":
                raise web.HTTPSeeOther("/login")
            raise web.HTTPUnauthorized(
                text="Say who you are: Authorization: Bearer TOKEN, or by /login.\n",
                headers={hdrs.WWW_AUTHENTICATE: "Bearer"},
            )
        request[WHO] = visitor
        return await handler(request)

    return ask_who


class Login:
    """The pages that need no login. ``secure`` says that TLS is spoken."""

    def __init__(
        self, door: Door, pages: Pages, station: Callable[[], str], *, secure: bool
    ) -> None:
        self._door = door
        self._pages = pages
        self._station = station
        self._secure = secure

    def add_to(self, routes: Routes) -> None:
        routes.add("GET", "/login", self._ask)
        routes.add("POST", "/login", self._come_in)
        routes.add("POST", "/logout", self._go_out)

    async def _ask(self, _request: web.Request) -> web.Response:
        return self._page("", 200)

    async def _come_in(self, request: web.Request) -> web.StreamResponse:
        from_here(request)
        given = (await request.post()).get("token", "")
        token = given if isinstance(given, str) else ""
        visitor = self._door.of_token(token, request.remote or "")
        if visitor is None:
            return self._page(_("This token is not known here."), 401)
        answer = web.HTTPSeeOther("/")
        answer.set_cookie(
            COOKIE,
            self._door.begin(visitor),
            max_age=int(SESSION_S),
            httponly=True,
            samesite="Strict",
            secure=self._secure,
        )
        raise answer

    async def _go_out(self, request: web.Request) -> web.StreamResponse:
        from_here(request)
        self._door.end(request)
        answer = web.HTTPSeeOther("/login")
        answer.del_cookie(COOKIE)
        raise answer

    def _page(self, trouble: str, status: int) -> web.Response:
        text = self._pages.html("login", station=self._station(), trouble=trouble)
        return web.Response(
            text=text,
            status=status,
            content_type="text/html",
            headers={"Content-Security-Policy": LOGIN_POLICY},
        )


def from_here(request: web.Request) -> None:
    """Refuse what another site made the browser send (cross-site request forgery)."""
    site, origin = request.headers.get("Sec-Fetch-Site"), request.headers.get(hdrs.ORIGIN)
    if site is not None:
        ours = site in ("same-origin", "none")
    else:
        # Browsers leave it out where no TLS is spoken; other programs send neither.
        ours = origin is None or urllib.parse.urlsplit(origin).netloc == request.host
    if not ours:
        raise web.HTTPForbidden(text="This must come from the station's own page.\n")
