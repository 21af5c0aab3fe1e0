"""The figures of a report as PNG, for a talk or a poster."""

import re
from collections.abc import Iterator
from html import unescape
from importlib import resources
from pathlib import Path
from typing import Final

from groundstation.debrief.drawing import WIDTH
from groundstation.errors import ConfigurationError

SCALE: Final = 3
CAPTION_PX: Final = 26.0
_FIGURE: Final = re.compile(
    r'<figure><svg xmlns="[^"]*" viewBox="0 0 (\d+) (\d+)"[^>]*>(.*?)</svg>'
    r"<figcaption>(.*?)</figcaption></figure>",
    re.DOTALL,
)
FONT_FOLDERS: Final = (
    "/usr/share/fonts", "/usr/local/share/fonts", "~/.fonts", "~/.local/share/fonts",
)  # fmt: skip
FONT: Final = "DejaVu Sans"


def pictures(html: str) -> Iterator[tuple[str, bytes]]:
    """(file name, PNG) of each figure with its caption, ``SCALE`` pixels to a unit of the drawing.

    Raises ``ConfigurationError`` on a machine without fonts, where all words would be missing.
    """
    from resvg_py import svg_to_bytes  # noqa: PLC0415

    if not any(_fonts()):
        raise ConfigurationError(
            "there is no font on this machine, so pictures would have no words; install one, such"
            " as the package fonts-dejavu-core"
        )
    style = (resources.files("groundstation") / "resources" / "report.css").read_text("utf-8")
    for number, (_, height, drawn, caption) in enumerate(_FIGURE.findall(html), 1):
        high = float(height) + CAPTION_PX
        svg = (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {high:.0f}">'
            f'{drawn}<text class="tick" x="12" y="{high - 9:.0f}">{caption}</text></svg>'
        )
        png = svg_to_bytes(
            svg_string=svg,
            background="#ffffff",
            style_sheet=style.replace("system-ui, sans-serif", f"'{FONT}', sans-serif"),
            width=int(SCALE * WIDTH),
        )
        yield f"{number:02}-{_name(unescape(caption))}.png", bytes(png)


def _name(caption: str) -> str:
    """The first words of the caption, as a file may be called."""
    first = re.split(r"[,:;(]", caption)[0]
    return "-".join(re.findall(r"[a-z0-9]+", first.lower()))[:40].strip("-") or "figure"


def _fonts() -> Iterator[Path]:
    for folder in FONT_FOLDERS:
        yield from Path(folder).expanduser().rglob("*.[to]tf")
