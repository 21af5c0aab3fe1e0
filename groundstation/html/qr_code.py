"""QR codes (ISO/IEC 18004), made by segno. Never the micro kind, which many phones can't read."""

import io
from pathlib import Path

import segno

from groundstation.errors import ConfigurationError

QUIET_ZONE = 4  # modules; ISO/IEC 18004 asks for so many
DOT_PX = 8  # own choice: 300 px for an address, sharp on a screen


def in_terminal(text: str) -> str:
    """In half blocks, light on dark as a terminal is, with its quiet zone."""
    written = io.StringIO()
    segno.make(text, micro=False).terminal(written, compact=True, border=QUIET_ZONE)
    return written.getvalue().rstrip("\n")


def in_svg(text: str, *, error: str = "m") -> str:
    """As an svg element without a size, to stand in a page. ``error`` is the level of correction
    (l, m, q or h)."""
    code = segno.make(text, micro=False, error=error)
    return code.svg_inline(border=QUIET_ZONE, omitsize=True, light="#fff", svgclass="qr")


def write(text: str, path: Path) -> None:
    """As SVG or PNG, by the ending. Raises ``ConfigurationError``."""
    if path.suffix not in (".svg", ".png"):
        raise ConfigurationError(f"{path} ends in neither .svg nor .png; name it so")
    try:
        segno.make(text, micro=False).save(str(path), scale=DOT_PX, border=QUIET_ZONE, light="#fff")
    except OSError as error:
        raise ConfigurationError(f"cannot write {path}: {error.strerror}") from error
