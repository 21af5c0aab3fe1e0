"""The page's files, read once from the package, and the shell that is made from them."""

import gzip
import hashlib
import json
import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Final

from jinja2 import Environment

from groundstation.html.templates import templates
from groundstation.language.catalogue import SOURCE, _, plural_forms, spoken
from groundstation.language.numbers import number
from groundstation.web.snapshot import StationSnapshot

_IMPORTED: Final = re.compile(r'^import .* from "\./([\w.-]+)";$', re.MULTILINE)
_SAID: Final = re.compile(
    r'\b(?:_|ngettext)\(\s*("(?:[^"\\]|\\.)*")(?:\s*,\s*("(?:[^"\\]|\\.)*"))?'
)
"""What a script says: the text, and for a count the text for many."""
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
    """Read the page's files from the package, in the language that is spoken."""
    folder = resources.files("groundstation.web") / "page"
    static = {"icon.svg": _static(_ICON.encode(), "image/svg+xml")}
    others = resources.files("groundstation.web") / "vendor"
    static |= _read(folder)
    if spoken() != SOURCE:
        _speak(static)
    static |= _read(others)
    return Pages(
        static=static,
        templates=templates("groundstation.web", "page"),
        modules=_imported(static, "page.js"),
    )


def _read(folder: Traversable) -> dict[str, StaticFile]:
    types = {
        path.name: _STATIC_TYPES.get(path.name.rpartition(".")[2]) for path in folder.iterdir()
    }
    return {
        name: _static((folder / name).read_bytes(), content_type)
        for name, content_type in types.items()
        if content_type is not None
    }


def script_texts(scripts: Iterable[str]) -> set[tuple[str, str]]:
    """What scripts say, and for many where that is counted, else ""."""
    return {
        (json.loads(text), json.loads(many or '""'))
        for script in scripts
        for text, many in _SAID.findall(script)
    }


def _speak(static: dict[str, StaticFile]) -> None:
    """Put the texts of all scripts into ``language.js``, and its own into the worker, which
    imports nothing."""
    scripts = {name: file.body.decode() for name, file in static.items() if name.endswith(".js")}
    worker = _SAID.sub(lambda said: f"_({_js(_(json.loads(said[1])))}", scripts.pop("worker.js"))
    texts = {
        singular: plural_forms(singular, many) if many else _(singular)
        for singular, many in script_texts(scripts.values())
    }
    body = scripts["language.js"]
    for empty, filled in (
        (f'language = "{SOURCE}";', f'language = "{spoken()}";'),
        ("TEXTS = {};", f"TEXTS = {_js(texts)};"),
    ):
        if empty not in body:
            raise ValueError(f"language.js has no {empty}")
        body = body.replace(empty, filled)
    for name, text in (("language.js", body), ("worker.js", worker)):
        static[name] = _static(text.encode(), _STATIC_TYPES["js"])


def _js(value: object) -> str:
    """As a script has it. JSON is JavaScript (ECMA-262 since 2019)."""
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


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
        return _("recorded flight")
    if speed == 0.0:
        return _("recorded flight, held")
    if speed == 1.0:
        return _("recorded flight, in real time")
    decimals = next((n for n in range(3) if round(speed, n) == round(speed, 3)), 3)
    return _("recorded flight, {speed} times real time", speed=number(speed, decimals))


def _static(body: bytes, content_type: str) -> StaticFile:
    return StaticFile(
        body=body,
        packed=gzip.compress(body, 6, mtime=0),
        content_type=content_type,
        etag=hashlib.sha256(body).hexdigest()[:20],
    )
