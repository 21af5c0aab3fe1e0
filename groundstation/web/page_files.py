"""The page's files, read once from the package, and the shell that is made from them."""

import gzip
import hashlib
import math
import re
from dataclasses import dataclass
from importlib import resources
from typing import Final

from jinja2 import Environment

from groundstation.html.templates import templates
from groundstation.web.snapshot import StationSnapshot

_IMPORTED: Final = re.compile(r'^import .* from "\./([\w.-]+)";$', re.MULTILINE)
_STATIC_TYPES: Final = {"css": "text/css", "js": "text/javascript"}

# Drawn here: a balloon with its payload, in the two colours of the page.
_ICON: Final = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32">'
    '<rect width="32" height="32" rx="5" fill="#15181c"/>'
    '<path d="M16 3c6 0 9 4 9 9 0 4-4 8-9 10C11 20 7 16 7 12c0-5 3-9 9-9Z" fill="#86c5ff"/>'
    '<path d="M16 22v3" stroke="#fff" stroke-width="1.5"/>'
    '<path d="M13 25h6v5h-6z" fill="#ffb070"/></svg>'
)


@dataclass(frozen=True, slots=True, kw_only=True)
class StaticFile:
    """A file of the page. ``etag`` changes with its bytes; ``packed`` is the same by gzip."""

    body: bytes
    packed: bytes
    content_type: str
    etag: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Pages:
    """Everything the page is made of, in memory."""

    static: dict[str, StaticFile]
    templates: Environment
    modules: tuple[str, ...]
    """What ``page.js`` imports, and what that imports: asked for at once, not one after another."""

    def html(self, page: str, **given: object) -> str:
        """The page of that name with what is given."""
        return self.templates.get_template(f"{page}.html").render(given)


def load_pages() -> Pages:
    """Read the page's files from the package."""
    folder = resources.files("groundstation.web") / "page"
    static = {"icon.svg": _static(_ICON.encode(), "image/svg+xml")}
    others = resources.files("groundstation.web") / "vendor"
    for entry in (*folder.iterdir(), *others.iterdir()):
        content_type = _STATIC_TYPES.get(entry.name.rpartition(".")[2])
        if content_type is not None:
            static[entry.name] = _static(entry.read_bytes(), content_type)
    return Pages(
        static=static,
        templates=templates("groundstation.web", "page"),
        modules=_imported(static, "page.js"),
    )


def _imported(static: dict[str, StaticFile], script: str) -> tuple[str, ...]:
    found: dict[str, None] = {}
    look = [script]
    while look:
        for name in _IMPORTED.findall(static[look.pop()].body.decode()):
            if name not in found:
                found[name] = None
                look.append(name)
    return tuple(sorted(found))


def shell_html(pages: Pages, snapshot: StationSnapshot) -> str:
    """The page before its first answer, with room for all it will show, so nothing jumps."""
    return pages.html(
        "shell",
        station=snapshot.station,
        modules=pages.modules,
        pace=_pace(snapshot.speed),
        rehearsal=snapshot.rehearsal,
        problems=snapshot.problems,
        counts={
            "payloads": len(snapshot.payloads),
            "sources": len(snapshot.sources),
            "targets": len(snapshot.targets),
        },
    )


def _pace(speed: float | None) -> str:
    if speed is None or not math.isfinite(speed):
        return "recorded flight"
    if speed == 1.0:
        return "recorded flight, in real time"
    return f"recorded flight, {speed:,.3f}".rstrip("0").rstrip(".") + " times real time"


def _static(body: bytes, content_type: str) -> StaticFile:
    return StaticFile(
        body=body,
        packed=gzip.compress(body, 6, mtime=0),
        content_type=content_type,
        etag=hashlib.sha256(body).hexdigest()[:20],
    )
