"""A real HTTP receiver on loopback that keeps the JSON posted to it, and fails when told to."""

import asyncio
import json
from dataclasses import dataclass
from types import TracebackType
from typing import Any, Self

from aiohttp import web


@dataclass(frozen=True, slots=True, kw_only=True)
class Post:
    """One post as it came, and what it was answered."""

    path: str
    body: Any
    status: int


class HttpTarget:
    """Answers every POST with ``status`` after ``delay_s``; both may be changed at any time.

    ``port`` is chosen by the system at the first start and kept at later ones. A post is in
    ``posts`` as soon as it is read, before the delay: who hangs up meanwhile was heard.
    """

    def __init__(self, host: str = "127.0.0.1") -> None:
        self._host = host
        self.status = 200
        self.delay_s = 0.0
        self.posts: list[Post] = []
        self.port = 0
        self._runner: web.AppRunner | None = None

    @property
    def url(self) -> str:
        return f"http://{self._host}:{self.port}"

    @property
    def accepted(self) -> list[Any]:
        """The bodies that were answered with success, in the order they came."""
        return [post.body for post in self.posts if post.status < 300]

    async def start(self) -> None:
        app = web.Application()
        app.router.add_post("/{path:.*}", self._post)
        self._runner = web.AppRunner(app, access_log=None, shutdown_timeout=1.0)
        await self._runner.setup()
        await web.TCPSite(self._runner, self._host, self.port).start()
        self.port = self._runner.addresses[0][1]

    async def stop(self) -> None:
        if self._runner is not None:
            await self._runner.cleanup()
            self._runner = None

    async def _post(self, request: web.Request) -> web.Response:
        status, delay_s = self.status, self.delay_s
        try:
            body = await request.json()
        except (json.JSONDecodeError, UnicodeDecodeError):
            status, body = 400, await request.read()
        self.posts.append(Post(path=request.path, body=body, status=status))
        await asyncio.sleep(delay_s)
        return web.Response(status=status)

    async def __aenter__(self) -> Self:
        await self.start()
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        await self.stop()
