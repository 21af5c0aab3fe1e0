"""Listening for HTTP without being held up: so many connections, and so long for each."""

import asyncio
import ssl
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from typing import Final

from aiohttp import web

IDLE_S: Final = 20.0
"""A connection on which no whole request comes for so long is closed."""

BODY_S: Final = 10.0
"""How long the body of a request may take, once its head is there."""

MOST_CONNECTIONS: Final = 300
"""Fifty phones with a few connections each, and room; far below what a process may open."""


SETTLED_S: Final = 0.05
"""After so long a connection that was accepted is there, or gone (own choice)."""


Answer = Callable[[web.Request], Awaitable[web.StreamResponse]]


class Routes:
    """Adds routes to ``app`` that take an Expect header of any bytes. The library's own way with
    one (``web.UrlDispatcher``) fails where it is no text, also on paths that nobody serves."""

    def __init__(self, app: web.Application) -> None:
        self._app = app
        self._methods: dict[str, list[str]] = {}

    def add(self, method: str, path: str, answer: Answer) -> None:
        for verb in ("GET", "HEAD") if method == "GET" else (method,):
            self._app.router.add_route(verb, path, answer, expect_handler=_go_on)
            self._methods.setdefault(path, []).append(verb)

    def close(self) -> None:
        """Answer whatever else is asked for; to be called last."""
        self._app.router.add_route("*", "/{rest:.*}", self._nothing, expect_handler=_go_on)

    async def _nothing(self, request: web.Request) -> web.StreamResponse:
        allowed = self._methods.get(request.path)
        if allowed is not None:
            raise web.HTTPMethodNotAllowed(request.method, allowed)
        raise web.HTTPNotFound


async def _go_on(request: web.Request) -> None:
    """Answer a sender that asks first (RFC 9110 section 10.1.1)."""
    if request.headers.get("Expect", "").lower() != "100-continue":
        raise web.HTTPExpectationFailed(text="only 100-continue can be expected here")
    if request.transport is not None:
        request.transport.write(b"HTTP/1.1 100 Continue\r\n\r\n")


_BUSY: Final[web.AppKey[set[object]]] = web.AppKey("busy", set)


@web.middleware
async def _busy(request: web.Request, handler: Answer) -> web.StreamResponse:
    """Remember which connections are being answered: the others may make room."""
    busy, connection = request.app[_BUSY], request.protocol
    busy.add(connection)
    try:
        return await handler(request)
    finally:
        busy.discard(connection)


def runner(app: web.Application, *, shutdown_s: float) -> web.AppRunner:
    """A runner whose connections do not wait for ever."""
    app[_BUSY] = set()
    app.middlewares.insert(0, _busy)
    return web.AppRunner(
        app,
        access_log=None,
        handle_signals=False,
        shutdown_timeout=shutdown_s,
        keepalive_timeout=IDLE_S,
    )


@asynccontextmanager
async def listening(
    made: web.AppRunner, host: str, port: int, tls: ssl.SSLContext | None = None
) -> AsyncIterator[tuple[str, int]]:
    """Listen as long as the context lasts; gives the address. Raises ``OSError``.

    Where there are too many connections, the oldest of those that ask nothing makes room for a new
    one: a crowd that only holds them open keeps nobody out.
    """
    await made.setup()
    server, busy = made.server, made.app[_BUSY]
    assert server is not None

    loop = asyncio.get_running_loop()

    def make_room() -> None:
        # One that was hung up on a moment ago is still among them, without its transport.
        open_now = [
            connection for connection in server.connections if connection.transport is not None
        ]
        idle = [connection for connection in open_now if connection not in busy]
        too_many = len(open_now) - MOST_CONNECTIONS
        for connection in [*idle, *reversed(open_now)][: max(too_many, 0)]:
            connection.force_close()

    def protocol() -> asyncio.Protocol:
        # Many may be accepted before the first of them is among the connections.
        loop.call_later(SETTLED_S, make_room)
        return server()

    try:
        listener = await asyncio.get_running_loop().create_server(
            protocol, host, port, ssl=tls, reuse_address=True
        )
        try:
            name = listener.sockets[0].getsockname()
            yield str(name[0]), int(name[1])
        finally:
            listener.close()
    finally:
        await made.cleanup()
