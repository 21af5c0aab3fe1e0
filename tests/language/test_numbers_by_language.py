"""Numbers as the Unicode CLDR has them, by Babel's copy of it."""

import pytest
from babel.numbers import format_decimal

from groundstation.language.catalogue import languages, speaking
from groundstation.language.numbers import MARKS, number


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("value", [0.0, 0.04, -0.6, 9.96, 999.9, 1_234.5, -12_345.678, 1_234_567.0])
@pytest.mark.parametrize("decimals", [0, 1, 2])
def test_numbers_are_written_as_the_language_writes_them(
    language: str, value: float, decimals: int
) -> None:
    pattern = "#,##0" + ("." + "0" * decimals if decimals else "")
    with speaking(language):
        told = number(value, decimals)
    assert told == format_decimal(value, format=pattern, locale=language)


def test_every_language_has_its_marks() -> None:
    assert set(MARKS) == set(languages())
