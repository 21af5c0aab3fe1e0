"""Numbers as a person reads them."""

import math
from zoneinfo import ZoneInfo

import pytest

from groundstation.alerts.quantities import (
    altitude_text,
    compass_text,
    distance_text,
    rate_text,
    span_text,
    time_text,
)
from groundstation.units import Units


# The factors are exact by definition: 1 ft = 0.3048 m, 1 mi = 1609.344 m.
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (distance_text(7.4, Units.METRIC), "7 m"),
        (distance_text(994.0, Units.METRIC), "990 m"),
        (distance_text(996.0, Units.METRIC), "1.0 km"),
        (distance_text(123_456.0, Units.METRIC), "123 km"),
        (distance_text(61.0, Units.IMPERIAL), "200 ft"),
        (distance_text(1_609.344, Units.IMPERIAL), "1.0 mi"),
        (altitude_text(85.0, Units.METRIC), "80 m"),
        (altitude_text(30_480.0, Units.IMPERIAL), "100,000 ft"),
        (altitude_text(85.0, Units.IMPERIAL), "280 ft"),
        (rate_text(5.08, Units.METRIC), "5.1 m/s"),
        (rate_text(5.08, Units.IMPERIAL), "1,000 ft/min"),
        (span_text(99.0), "99 s"),
        (span_text(100.0), "2 min"),
        (span_text(7_500.0), "2 h 05 min"),
        (span_text(273_600.0), "3 d 4 h"),
        (span_text(-3.0), "0 s"),
        (compass_text(359.0), "N"),
        (compass_text(101.3), "ESE"),
        (time_text(0.0, ZoneInfo("UTC")), "00:00"),
        (time_text(math.nan, ZoneInfo("UTC")), "an unknown time"),
    ],
)
def test_numbers_as_a_person_reads_them(text: str, expected: str) -> None:
    assert text == expected
