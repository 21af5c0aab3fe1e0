"""The text after an APRS position: further digits, altitude, configured measurements.

The rule of the APRS 1.2 addenda for further digits is given from memory; aprslib, which agrees,
is asked in another file.
"""

import pytest

from groundstation.decoders.aprs.decode import AprsDecoder
from groundstation.decoders.aprs.settings import AprsSettings, CommentField
from groundstation.errors import ConfigurationError
from groundstation.records import Report

LATITUDE = 47 + 6.00 / 60
LONGITUDE = -(20 + 18.00 / 60)
FIELDS = (
    CommentField(name="battery_v", pattern=r"([0-9.]+)V\b"),
    CommentField(name="temperature_c", pattern=r"(-?[0-9.]+)C\b"),
    CommentField(name="pressure_pa", pattern=r"([0-9.]+)hPa", unit="hPa"),
    CommentField(name="satellites", pattern=r"\b([0-9]{2})S\b"),
)


def report(comment: str, settings: AprsSettings | None = None) -> Report:
    line = f"Q0HAB-11>APZ001:!4706.00N/02018.00WO{comment}".encode()
    (found,) = AprsDecoder(settings or AprsSettings()).decode(line, 1.7e9)
    assert isinstance(found, Report), found
    return found


def test_digits_for_people() -> None:
    # APRS 1.2 addenda: !W26! adds the thousandths of a minute 2 and 6.
    found = report("hello !W26!")
    assert found.latitude_deg == pytest.approx(LATITUDE + 0.002 / 60, abs=1e-9)
    assert found.longitude_deg == pytest.approx(LONGITUDE - 0.006 / 60, abs=1e-9)
    assert found.uncertainty_m == pytest.approx(0.5e-3 * 1852)


def test_digits_in_base_91() -> None:
    # APRS 1.2 addenda: each character is so many 91sts of a hundredth of a minute.
    found = report("!w!{!")
    assert found.latitude_deg == pytest.approx(LATITUDE, abs=1e-9)
    assert found.longitude_deg == pytest.approx(LONGITUDE - 0.01 * 90 / 91 / 60, abs=1e-9)
    assert found.uncertainty_m == pytest.approx(0.1, abs=0.01)


@pytest.mark.parametrize(
    "comment",
    [
        "!w`l! !wbj! !wQu!",
        "!w`l! !wbj!",
        "!W26!!W26!",
        "!W  !",
        "!x12!",
        "!w1!",
        "!W2a!",
        "Go! Go!",
    ],
)
def test_groups_that_say_nothing_of_this_position(comment: str) -> None:
    found = report(comment)
    assert found.latitude_deg == pytest.approx(LATITUDE, abs=1e-12)
    assert found.longitude_deg == pytest.approx(LONGITUDE, abs=1e-12)
    assert found.uncertainty_m == pytest.approx(9.26)


def test_an_ambiguous_position_is_not_refined() -> None:
    line = b"Q0HAB-11>APZ001:!4706.0 N/02018.0 WO!w55!"
    (found,) = AprsDecoder(AprsSettings()).decode(line, 1.7e9)
    assert isinstance(found, Report)
    assert found.uncertainty_m == pytest.approx(92.6)


def test_the_southern_and_western_zero_are_refined_outwards() -> None:
    line = b"Q0HAB-11>APZ001:!0000.00S/00000.00WO!W99!"
    (found,) = AprsDecoder(AprsSettings()).decode(line, 1.7e9)
    assert isinstance(found, Report)
    assert found.latitude_deg < 0.0
    assert found.longitude_deg < 0.0


@pytest.mark.parametrize("comment", ["/A=0Y2902", "/A=12345", "/A=", "A=001234", "/A=060:40"])
def test_a_damaged_altitude_is_none(comment: str) -> None:
    assert report(comment).altitude_m is None


def test_measurements_of_a_real_kind_of_comment() -> None:
    found = report(
        "/A=003227 049TxC  26.30C  956.16hPa  6.19V 05S club 5 !wVb!",
        AprsSettings(comment_fields=FIELDS),
    )
    assert dict(found.telemetry) == pytest.approx(
        {"battery_v": 6.19, "temperature_c": 26.30, "pressure_pa": 95616.0}
    )
    assert found.satellites == 5


def test_measurements_that_are_not_there_or_no_numbers_are_left_out() -> None:
    settings = AprsSettings(
        comment_fields=(
            CommentField(name="battery_v", pattern=r"(\S+)V"),
            CommentField(name="satellites", pattern=r"([0-9]+)S"),
            CommentField(name="humidity", pattern=r"(x)?y"),
        )
    )
    found = report("nanV 999S y", settings)
    assert found.telemetry == ()
    assert found.satellites is None


def test_units_become_those_of_the_names() -> None:
    settings = AprsSettings(
        comment_fields=(
            CommentField(name="temperature_c", pattern=r"([0-9.]+)F", unit="degF"),
            CommentField(name="outside_k", pattern=r"([0-9.]+)C", unit="degC"),
            CommentField(name="battery_v", pattern=r"([0-9]+)mV", unit="mV"),
        )
    )
    found = report("212F 0C 3700mV", settings)
    assert dict(found.telemetry) == pytest.approx(
        {"temperature_c": 100.0, "outside_k": 273.15, "battery_v": 3.7}
    )


def test_bytes_that_are_not_utf8_do_not_stop_the_measurements() -> None:
    line = b"Q0HAB-11>APZ001:!4706.00N/02018.00WO\xa0\xf3 5.9V\x00\x07"
    (found,) = AprsDecoder(AprsSettings(comment_fields=FIELDS)).decode(line, 1.7e9)
    assert isinstance(found, Report)
    assert dict(found.telemetry) == {"battery_v": 5.9}
    assert found.comment.isprintable()


@pytest.mark.parametrize(
    ("field", "message"),
    [
        (CommentField(name="battery_v", pattern="("), "is no regular expression"),
        (CommentField(name="battery_v", pattern="[0-9]+V"), "needs one group"),
        (CommentField(name="battery_v", pattern="(a)(b)"), "needs one group"),
        (CommentField(name="battery_v", pattern="(.)V", unit="hPa"), "does not measure"),
        (CommentField(name="battery", pattern="(.)V", unit="V"), "_v"),
        (CommentField(name="battery_v", pattern="(.)V", unit="volt"), "unknown unit"),
        (CommentField(name="Battery V", pattern="(.)V"), "no name"),
    ],
)
def test_settings_that_cannot_work(field: CommentField, message: str) -> None:
    with pytest.raises(ConfigurationError, match=message):
        AprsDecoder(AprsSettings(comment_fields=(field,)))


def test_an_offset_that_no_clock_has() -> None:
    with pytest.raises(ConfigurationError, match="14 hours"):
        AprsDecoder(AprsSettings(utc_offset_s=15 * 3600.0))
