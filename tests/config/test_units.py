"""What people write as quantities, against NIST SP 811, appendix B.8 (factors to SI)."""

import pytest

from groundstation.errors import ConfigurationError
from groundstation.units import UNITS, parse_quantity


@pytest.mark.parametrize(
    ("text", "dimension", "si"),
    [
        ("2lb3oz", "mass", 2.0 * 0.453_592_37 + 3.0 * 0.028_349_52),
        ("2 pounds 3 ounces", "mass", 2.0 * 0.453_592_37 + 3.0 * 0.028_349_52),
        ("1.2 KG", "mass", 1.2),
        ("1200 grams", "mass", 1.2),
        ("5'6\"", "length", 66.0 * 0.0254),
        ("12 metres", "length", 12.0),
        ("98000 feet", "length", 29_870.4),
        ("2200PSI", "pressure", 2_200.0 * 6_894.757),
        ("29.92 in Hg", "pressure", 29.92 * 3_386.389),
        ("760 torr", "pressure", 101_325.0),
        ("1013 hpa", "pressure", 101_300.0),
        ("15 MPa", "pressure", 15e6),
        ("59 deg F", "temperature", 288.15),
        ("15 celsius", "temperature", 288.15),
        ("244 cu ft", "volume", 244.0 * 0.028_316_85),
        ("244 cubic feet", "volume", 244.0 * 0.028_316_85),
        ("244 ft^3", "volume", 244.0 * 0.028_316_85),
        ("50 litres", "volume", 0.05),
        ("50 lb", "force", 50.0 * 4.448_222),
        ("25 kg", "force", 25.0 * 9.806_65),
        ("10 knots", "speed", 5.144_444),
        ("1 hour 30 min", "time", 5_400.0),
    ],
)
def test_what_people_write_is_read(text: str, dimension: str, si: float) -> None:
    assert parse_quantity(text, dimension) == pytest.approx(si, rel=1e-6)


@pytest.mark.parametrize("text", ["1,200 g", "0,9 kg", "2,200"])
def test_a_comma_is_asked_about_and_never_guessed(text: str) -> None:
    with pytest.raises(ConfigurationError, match="has a comma"):
        parse_quantity(text, "mass")


def test_capitals_never_decide_between_two_units() -> None:
    """So that they may be left to the person."""
    lower = [(row[0], unit.lower()) for unit, row in UNITS.items()]
    assert len(set(lower)) == len(lower)
