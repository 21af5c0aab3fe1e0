"""Listening for HTTP without being held up: so many connections, and so long for each."""

import asyncio
import ssl
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Final

from aiohttp import web

IDLE_S: Final = 20.0
"""A connection on which no whole request comes for so long is closed."""

BODY_S: Final = 10.0
"""How long the body of a request may take, once its head is there."""

MOST_CONNECTIONS: Final = 300
"""Fifty phones with a few connections each, and room; far below what a process may open."""


class _Refuser(asyncio.Protocol):
    """Hangs up at once."""

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        transport.close()


def runner(app: web.Application, *, shutdown_s: float) -> web.AppRunner:
    """A runner whose connections do not wait for ever."""
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
    """Listen as long as the context lasts; gives the address. Raises ``OSError``."""
    await made.setup()
    server = made.server
    assert server is not None

    def protocol() -> asyncio.Protocol:
        return _Refuser() if len(server.connections) >= MOST_CONNECTIONS else server()

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
