"""What every answer and every question must satisfy, whatever the page."""

from collections.abc import Awaitable, Callable
from typing import Final

from aiohttp import hdrs, web

from groundstation.language.catalogue import _
from groundstation.web.settings import is_loopback

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]

POLICY: Final = (
    "default-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; "
    "object-src 'none'; img-src 'self' data:"
)
ONLINE_MAP: Final = "online-map"
SECURITY_HEADERS: Final = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=(self)",
}


@web.middleware
async def only_this_machine(request: web.Request, handler: Handler) -> web.StreamResponse:
    """Refuse questions under another name than this machine's own.

    A foreign web site may point its own name at 127.0.0.1 (DNS rebinding); the browser then sends
    that name as Host.
    """
    hosts = request.headers.getall(hdrs.HOST, [])
    if len(hosts) != 1 or not is_loopback(_without_port(hosts[0])):
        raise web.HTTPMisdirectedRequest(
            text=_("This station answers to localhost and 127.0.0.1 only; open it by one of them.")
            + "\n"
        )
    return await handler(request)


def agreed_online(request: web.Request) -> bool:
    """Whether this browser's person agreed to the online map; its page keeps that in a cookie."""
    return request.cookies.get(ONLINE_MAP) == "yes"


def hardened(tiles: str = "") -> Callable[[web.Request, web.StreamResponse], Awaitable[None]]:
    """Set the security headers, keep the server's make to ourselves, and cache nothing. Pictures
    may come from the origin ``tiles`` too, in a browser whose person agreed to that."""
    opened = f"{POLICY} {tiles}".rstrip()

    async def harden(request: web.Request, response: web.StreamResponse) -> None:
        if agreed_online(request):
            response.headers.setdefault("Content-Security-Policy", opened)
        for name, value in SECURITY_HEADERS.items():
            response.headers.setdefault(name, value)
        response.headers.popall(hdrs.SERVER, None)
        response.headers.setdefault(hdrs.CACHE_CONTROL, "no-store")

    return harden


def _without_port(host: str) -> str:
    name, colon, port = host.rpartition(":")
    return name if colon and port.isdigit() and not name.endswith(":") else host
