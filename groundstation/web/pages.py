"""The page's files, read once from the package, and the shell that is made from them."""

import gzip
import hashlib
import math
from dataclasses import dataclass
from html import escape
from importlib import resources
from string import Template
from typing import Final

from groundstation.web.snapshot import StationSnapshot

_STATIC_TYPES: Final = {"css": "text/css", "js": "text/javascript"}
_PARTS: Final = ("payload", "curves", "source", "target", "message", "search")

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
    shell: Template
    login: Template
    problem: Template
    parts: dict[str, str]


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
        shell=Template((folder / "shell.html").read_text("utf-8")),
        login=Template((folder / "login.html").read_text("utf-8")),
        problem=Template((folder / "problem.html").read_text("utf-8").strip()),
        parts={name: (folder / f"{name}.html").read_text("utf-8").strip() for name in _PARTS},
    )


def shell_html(pages: Pages, snapshot: StationSnapshot) -> str:
    """The page before its first answer, with room for all it will show, so nothing jumps."""
    parts = pages.parts
    return pages.shell.substitute(
        station=escape(snapshot.station),
        pace=escape(_pace(snapshot.speed)),
        rehearsal_hidden="" if snapshot.rehearsal else "hidden",
        payloads=parts["payload"] * len(snapshot.payloads),
        curves=parts["curves"] * len(snapshot.payloads),
        sources=parts["source"] * len(snapshot.sources),
        targets=parts["target"] * len(snapshot.targets),
        calm_hidden="hidden" if snapshot.problems else "",
        problems="".join(_problem(pages, text) for text in snapshot.problems),
        problem_part=_problem(pages, ""),
        **{f"{name}_part": text for name, text in parts.items()},
    )


def _problem(pages: Pages, text: str) -> str:
    return pages.problem.substitute(text=escape(text))


def _pace(speed: float) -> str:
    if not math.isfinite(speed):
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
