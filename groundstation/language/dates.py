"""Days as they are written in the language that is spoken."""

from datetime import date

from groundstation.language.catalogue import _


def day_text(day: date) -> str:
    """Such as 2026-05-16; as each language has it in figures (Unicode CLDR)."""
    # For translators: a date in figures, year, month and day of two digits.
    return _(
        "{year}-{month}-{day}", year=day.year, month=day.strftime("%m"), day=day.strftime("%d")
    )
