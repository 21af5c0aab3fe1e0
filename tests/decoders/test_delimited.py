"""Delimited text with named columns."""

from datetime import UTC, datetime

import pytest

from groundstation.decoders.checksums import crc16_ccitt_false
from groundstation.decoders.delimited import Checksum, DelimitedDecoder, DelimitedSettings
from groundstation.decoders.time_formats import TimeFormat
from groundstation.errors import ConfigurationError
from groundstation.records import Read, Reason, Report, Unreadable

RECEIVED = datetime(2024, 5, 10, 12, 0, tzinfo=UTC).timestamp()
CRC = DelimitedSettings(
    columns=("tracker", "", "time", "lat", "lon", "alt_m", "satellites", "battery_v"),
    start="$$",
    checksum=Checksum.CRC16,
    time_format=TimeFormat.HMS,
)


def with_crc(body: str) -> bytes:
    return f"$${body}*{crc16_ccitt_false(body.encode()):04X}".encode()


def record(settings: DelimitedSettings, line: bytes) -> Read:
    (found,) = DelimitedDecoder(settings).decode(line, RECEIVED)
    return found


def report(settings: DelimitedSettings, line: bytes) -> Report:
    found = record(settings, line)
    assert isinstance(found, Report), found
    return found


def refusal(settings: DelimitedSettings, line: bytes) -> Unreadable:
    found = record(settings, line)
    assert isinstance(found, Unreadable), found
    assert found.detail.endswith(".")
    return found


def test_a_track_table() -> None:
    settings = DelimitedSettings(tracker="kanalas-1")
    found = report(settings, b"2024-05-10T11:59:58Z,47.10000,20.30000,85.0")
    assert found == Report(
        tracker="kanalas-1",
        latitude_deg=47.1,
        longitude_deg=20.3,
        altitude_m=85.0,
        time_utc=RECEIVED - 2,
        uncertainty_m=found.uncertainty_m,
    )
    assert found.uncertainty_m == pytest.approx(0.5e-5 * 111_120)


def test_a_line_with_marker_and_checksum() -> None:
    found = report(CRC, with_crc("Q0HAB-11,17,11:59:58,47.10012,20.30034,12345,09,3.71"))
    assert found.tracker == "Q0HAB-11"
    assert found.time_utc == RECEIVED - 2
    assert found.altitude_m == 12345.0
    assert found.satellites == 9
    assert found.telemetry == (("battery_v", 3.71),)


def test_the_published_check_value_as_a_line() -> None:
    # Catalogue of parametrised CRC algorithms: 29B1 over 123456789.
    settings = DelimitedSettings(
        columns=("lat", "lon"), separator="5", checksum=Checksum.CRC16, tracker="x"
    )
    assert refusal(settings, b"123456789*29B2").reason is Reason.CHECKSUM
    assert refusal(settings, b"123456789*29B1").reason is Reason.IMPOSSIBLE  # 1234 degrees


def test_noise_before_the_marker_and_the_marker_repeated() -> None:
    line = with_crc("Q0HAB-11,17,115958,47.10012,20.30034,12345,09,3.71")
    assert report(CRC, b"\x00\xffxx$$" + line).tracker == "Q0HAB-11"


def test_wrong_and_missing_checksums() -> None:
    line = with_crc("Q0HAB-11,17,115958,47.10012,20.30034,12345,09,3.71")
    assert refusal(CRC, line.replace(b"12345", b"12346")).reason is Reason.CHECKSUM
    assert refusal(CRC, line[:-5]).reason is Reason.CHECKSUM
    assert refusal(CRC, line[:-1]).reason is Reason.CHECKSUM
    assert refusal(CRC, line[2:]).reason is Reason.UNREADABLE


def test_a_checksum_that_is_not_required_is_still_checked() -> None:
    settings = DelimitedSettings(
        columns=("lat", "lon"), tracker="x", checksum=Checksum.XOR, checksum_required=False
    )
    assert report(settings, b"47.1,20.3").latitude_deg == 47.1
    assert report(settings, b"1,2*2f").longitude_deg == 2.0  # 31 ^ 2C ^ 32
    assert refusal(settings, b"1,2*00").reason is Reason.CHECKSUM


def test_empty_cells() -> None:
    settings = DelimitedSettings(columns=("lat", "lon", "alt_m", "battery_v"), tracker="x")
    found = report(settings, b"47.1,20.3,,")
    assert found.altitude_m is None
    assert found.telemetry == ()
    assert refusal(settings, b",,,").reason is Reason.NO_FIX
    assert refusal(settings, b"47.1,,,").reason is Reason.NO_FIX


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        (b"", Reason.UNREADABLE),
        (b"47.1,20.3", Reason.UNREADABLE),
        (b"lat,lon,alt_m", Reason.UNREADABLE),
        (b"nan,20.3,1", Reason.UNREADABLE),
        (b"1e999,20.3,1", Reason.UNREADABLE),
        (b"47.1;20.3;85", Reason.UNREADABLE),
        (b"91,20.3,1", Reason.IMPOSSIBLE),
        (b"x" * 5000, Reason.TOO_LONG),
    ],
)
def test_lines_that_hold_no_position(line: bytes, reason: Reason) -> None:
    settings = DelimitedSettings(columns=("lat", "lon", "alt_m"), tracker="x")
    assert refusal(settings, line).reason is reason


def test_units_and_no_fix_flag() -> None:
    settings = DelimitedSettings(
        columns=("lat", "lon", "alt_m", "speed_ms", "course_deg", "temperature_c", "valid"),
        units={"lat": "ddmm", "lon": "ddmm", "alt_m": "ft", "speed_ms": "kt",
               "temperature_c": "K"},
        tracker="x",
    )  # fmt: skip
    found = report(settings, b"-4706.000,2018.000,1000,10,360,273.15,0")
    assert found.latitude_deg == pytest.approx(-47.1)
    assert found.longitude_deg == pytest.approx(20.3)
    assert found.altitude_m == pytest.approx(304.8)
    assert found.speed_ms == pytest.approx(5.144444)
    assert found.course_deg == 0.0
    assert dict(found.telemetry) == pytest.approx({"temperature_c": 0.0})
    assert not found.valid
    assert found.uncertainty_m == pytest.approx(0.926)


def test_whole_numbers_of_ten_millionths() -> None:
    units = {"lat": "1e-7 deg", "lon": "1e-7 deg"}
    settings = DelimitedSettings(columns=("lat", "lon"), units=units, tracker="x")
    assert report(settings, b"471000000,-203000000").longitude_deg == pytest.approx(-20.3)


@pytest.mark.parametrize(
    ("settings", "message"),
    [
        (DelimitedSettings(), "tracker"),
        (DelimitedSettings(columns=("lat",), tracker="x"), "lon"),
        (DelimitedSettings(columns=("lat", "lon", "lat"), tracker="x"), "more than once"),
        (DelimitedSettings(separator="", tracker="x"), "separator"),
        (DelimitedSettings(units={"alt_ft": "ft"}, tracker="x"), "alt_ft"),
        (DelimitedSettings(units={"alt_m": "V"}, tracker="x"), "alt_m"),
        (DelimitedSettings(units={"lat": "ft"}, tracker="x"), "lat"),
        (DelimitedSettings(units={"time": "s"}, tracker="x"), "time"),
    ],
)
def test_settings_that_cannot_work(settings: DelimitedSettings, message: str) -> None:
    with pytest.raises(ConfigurationError, match=message):
        DelimitedDecoder(settings)
