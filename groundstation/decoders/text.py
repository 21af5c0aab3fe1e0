"""Text and numbers out of bytes that may hold anything."""

import math
import re
from typing import Final

_NUMBER: Final = re.compile(
    r"[+-]?(?:[0-9]{1,30}(?:\.[0-9]{0,30})?|\.[0-9]{1,30})(?:[eE][+-]?[0-9]{1,3})?"
)
_NAME_LIMIT: Final = 64


def number(text: str) -> float | None:
    """A finite decimal number in ASCII digits, spaces around it allowed; else None."""
    text = text.strip()
    if _NUMBER.fullmatch(text) is None:
        return None
    value = float(text)
    return value if math.isfinite(value) else None


def decimals(text: str) -> int:
    """How many digits the number has after its point."""
    return len(text.strip().partition(".")[2])


def clean(text: str) -> str:
    """The text as any store and any phone can hold it.

    Lone surrogates become question marks and control characters spaces; ends are trimmed.
    """
    text = text.encode("utf-8", "replace").decode("utf-8")
    return "".join(char if char.isprintable() else " " for char in text).strip()


def clean_bytes(data: bytes) -> str:
    """As ``clean``, from bytes that should be UTF-8 and may not be."""
    return clean(data.decode("utf-8", "replace"))


def clean_name(text: str) -> str:
    """A tracker's id, cleaned and at most 64 characters long."""
    return clean(text[:_NAME_LIMIT])
