"""Stand-ins on this machine for the kinds of service that the README gives as examples."""

import json
import re
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from aiohttp import web

README = Path(__file__).resolve().parents[2] / "README.md"


def readme_addresses() -> dict[str, str]:
    """The example address of each kind of service, by its scheme."""
    found = re.findall(
        r"^(ntfys|matrixs|mailtos)(://\S+)$", README.read_text("utf-8"), re.MULTILINE
    )
    return {scheme: scheme + rest for scheme, rest in found}


def on_this_machine(address: str, port: int) -> str:
    """The same address without TLS, at a stand-in; that for mail asks for no password."""
    scheme, _, rest = address.partition("://")
    place, _, path = rest.partition("/")
    who = f"{place.partition('@')[0]}@" if "@" in place and scheme != "mailtos" else ""
    return f"{scheme.removesuffix('s')}://{who}127.0.0.1:{port}/{path}"


class Services:
    """A push service by topics (ntfy's HTTP API), and a home server of the Matrix client-server
    API (spec.matrix.org, v1.11: whoami, join, send), both as their documentation has them."""

    def __init__(self) -> None:
        self.pushed: list[dict[str, Any]] = []
        self.said: list[tuple[str, str]] = []
        self.port = 0
        self._runner: web.AppRunner | None = None

    async def _take(self, request: web.Request) -> web.Response:
        path = request.path
        if not path.startswith("/_matrix/"):
            self.pushed.append(json.loads(await request.read()))
            return web.json_response({})
        if request.headers.get("Authorization") != "Bearer TOKEN":
            return web.json_response({"errcode": "M_UNKNOWN_TOKEN"}, status=401)
        if path.endswith("/whoami"):
            return web.json_response({"user_id": "@base:example.net"})
        if "/join/" in path:
            return web.json_response({"room_id": path.rpartition("/")[2]})
        if "/send/m.room.message/" in path:
            room = path.partition("/rooms/")[2].partition("/")[0]
            self.said.append((room, json.loads(await request.read())["body"]))
            return web.json_response({"event_id": "$1"})
        return web.json_response({"errcode": "M_UNRECOGNIZED"}, status=404)

    async def __aenter__(self) -> Self:
        app = web.Application()
        app.router.add_route("*", "/{path:.*}", self._take)
        self._runner = web.AppRunner(app, access_log=None, shutdown_timeout=1.0)
        await self._runner.setup()
        await web.TCPSite(self._runner, "127.0.0.1", 0).start()
        self.port = self._runner.addresses[0][1]
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        assert self._runner is not None
        await self._runner.cleanup()
