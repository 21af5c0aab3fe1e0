"""Numbers as they are written in the language that is spoken.

By the Unicode CLDR: a point and commas in English, a comma and no-break spaces in Hungarian.
"""

from typing import Final

from groundstation.language.catalogue import spoken

MARKS: Final = {"en": (",", "."), "hu": ("\u00a0", ",")}
"""What stands between thousands, and before decimals."""


def number(value: float, decimals: int = 0) -> str:
    """``value`` with so many decimals."""
    return marked(f"{value:,.{decimals}f}")


def marked(text: str) -> str:
    """A number that is written as in English, with the marks of the language."""
    between, before = MARKS[spoken()]
    if (between, before) == MARKS["en"]:
        return text
    return text.translate({ord(","): between, ord("."): before})
