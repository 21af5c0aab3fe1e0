"""Text and numbers out of bytes that may hold anything."""

import math
import re
from enum import StrEnum
from typing import Final

_NUMBER: Final = re.compile(
    r"[+-]?(?:[0-9]{1,30}(?:\.[0-9]{0,30})?|\.[0-9]{1,30})(?:[eE][+-]?[0-9]{1,3})?"
)
_GAP: Final = "[ '\u00a0\u2009\u202f\u2019]"
_SPACE: Final = re.compile(_GAP)
_SPACED: Final = re.compile(rf"[+-]?[0-9]{{1,3}}(?:{_GAP}[0-9]{{3}}){{1,4}}(?:[.,][0-9]{{1,30}})?")
_GROUPED: Final = re.compile(r"[+-]?[0-9]{1,3}(?:,[0-9]{3}){1,6}(?:\.[0-9]{1,30})?")
_TURNED: Final = {ord("."): ",", ord(","): "."}
_NAME_LIMIT: Final = 64  # own choice: longer than any callsign or device name


def number(text: str) -> float | None:
    """A finite decimal number in ASCII digits, spaces around it allowed; else None."""
    text = text.strip()
    if _NUMBER.fullmatch(text) is None:
        return None
    value = float(text)
    return value if math.isfinite(value) else None


class NumberForm(StrEnum):
    """How numbers are written, by example: with a point or a comma before the decimals, with or
    without a mark between thousands."""

    POINT = "1234.5"
    COMMA = "1234,5"
    POINT_GROUPED = "1,234.5"
    COMMA_GROUPED = "1.234,5"


def plain_number(text: str, form: NumberForm) -> str:
    """The text with its decimals after a point and nothing between thousands.

    A space or an apostrophe between thousands is taken out in every form. What is not written in
    the form stays as it is where that could be misread, so that it is no number.
    """
    text = text.strip()
    if _SPACED.fullmatch(text):
        text = _SPACE.sub("", text)
    match form:
        case NumberForm.POINT:
            return text
        case NumberForm.COMMA:
            return text.replace(",", ".") if "." not in text else ""
        case NumberForm.POINT_GROUPED:
            return text.replace(",", "") if _GROUPED.fullmatch(text) else text
        case NumberForm.COMMA_GROUPED:
            turned = text.translate(_TURNED)
            if _GROUPED.fullmatch(turned):
                return turned.replace(",", "")
            return turned if "," not in turned else ""


def decimals(text: str) -> int:
    """How many digits the number has after its point, its exponent taken off; may be negative."""
    mantissa, _, exponent = text.strip().lower().partition("e")
    return len(mantissa.partition(".")[2]) - (int(exponent) if exponent else 0)


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
