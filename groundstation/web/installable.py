"""The page as an app on the phone: what makes it one, and keeps its shell for when there is no
network (W3C Web Application Manifest; Service Workers)."""

import json
from typing import Final

from aiohttp import hdrs, web

from groundstation.httpd import Routes
from groundstation.language.catalogue import _, spoken
from groundstation.web.page_files import Pages, StaticFile

LOOKS: Final = {
    "start_url": "/",
    "display": "standalone",
    "background_color": "#15181c",
    "theme_color": "#15181c",
    "icons": [{"src": "/static/icon.svg", "sizes": "any", "type": "image/svg+xml"}],
}


class InstalledApp:
    def __init__(self, pages: Pages) -> None:
        self._worker = pages.static["worker.js"]
        self._manifest_text = json.dumps(
            {
                "name": _("Balloon ground station"),
                "short_name": _("Balloon"),
                "lang": spoken(),
                **LOOKS,
            }
        )

    def add_to(self, routes: Routes) -> None:
        routes.add("GET", "/app.webmanifest", self._manifest)
        routes.add("GET", "/worker.js", self._script)

    async def _manifest(self, _request: web.Request) -> web.Response:
        return web.Response(text=self._manifest_text, content_type="application/manifest+json")

    async def _script(self, request: web.Request) -> web.Response:
        """It may only care for what lies below it, so it is given out at the top."""
        return answered(request, self._worker)


def answered(request: web.Request, file: StaticFile) -> web.Response:
    """Asked for again each time and answered by 304: a new station never meets an old script."""
    headers = {
        hdrs.CACHE_CONTROL: "no-cache",
        hdrs.ETAG: f'"{file.etag}"',
        hdrs.VARY: hdrs.ACCEPT_ENCODING,
    }
    if any(tag.value == file.etag for tag in request.if_none_match or ()):
        return web.Response(status=304, headers=headers)
    body = file.body
    if "gzip" in request.headers.get(hdrs.ACCEPT_ENCODING, ""):
        body = file.packed
        headers[hdrs.CONTENT_ENCODING] = "gzip"
    return web.Response(body=body, content_type=file.content_type, charset="utf-8", headers=headers)
