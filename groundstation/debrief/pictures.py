"""The figures of a report as PNG, for a talk or a poster."""

import re
import unicodedata
from collections.abc import Iterator
from html import unescape
from importlib import resources
from pathlib import Path
from typing import Final

from markupsafe import Markup

from groundstation.debrief.drawing import WIDTH
from groundstation.errors import ConfigurationError
from groundstation.html.templates import templates

SCALE: Final = 3  # own choice: sharp on a phone's screen
CAPTION_PX: Final = 26.0  # a line of text and the room around it
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
    picture = templates("groundstation.debrief").get_template("picture.html")
    for number, (_, height, drawn, caption) in enumerate(_FIGURE.findall(html), 1):
        high = float(height) + CAPTION_PX
        svg = picture.render(
            width=f"{WIDTH:.0f}",
            height=f"{high:.0f}",
            drawn=Markup(drawn),
            foot=f"{high - 9:.0f}",
            caption=Markup(caption),
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
    plain = unicodedata.normalize("NFKD", first).encode("ascii", "ignore").decode()
    return "-".join(re.findall(r"[a-z0-9]+", plain.lower()))[:40].strip("-") or "figure"


def _fonts() -> Iterator[Path]:
    for folder in FONT_FOLDERS:
        yield from Path(folder).expanduser().rglob("*.[to]tf")
