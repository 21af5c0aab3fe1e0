"""Latitudes and longitudes with sides, marks and minutes; nothing is taken to the wrong side."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation.decoders.angles import read_angle
from groundstation.decoders.byte_layout import Encoding, PackedField, PackedSettings
from groundstation.decoders.delimited import DelimitedDecoder, DelimitedSettings
from groundstation.decoders.json_map import JsonDecoder, JsonSettings
from groundstation.decoders.text import NumberForm
from groundstation.records import Read, Report, Unreadable

NOW = 1_778_922_000.0


@pytest.mark.parametrize(
    ("text", "axis", "unit", "side", "degrees"),
    [
        ("47.1N", "lat", "deg", "", 47.1),
        ("N 47.1", "lat", "deg", "", 47.1),
        ("47.1 South", "lat", "deg", "", -47.1),
        ("4706.00", "lat", "ddmm", "S", -47.1),
        ("02018.00", "lon", "ddmm", "W", -20.3),
        ("02018.00W", "lon", "ddmm", "", -20.3),
        ("47°06'00.0\"S", "lat", "deg", "", -47.1),
        ("W 20° 18.000'", "lon", "deg", "", -20.3),
        ("47 06.000", "lat", "deg", "S", -47.1),
        ("20:18:00", "lon", "deg", "E", 20.3),
        ("470600", "lat", "ddmmss", "", 47.1),
        ("471000000", "lat", "1e-7 deg", "", 47.1),
        ("-47100000", "lat", "1e-6 deg", "", -47.1),
        ("4.71e1", "lat", "deg", "", 47.1),
    ],
)
def test_an_angle_is_read(text: str, axis: str, unit: str, side: str, degrees: float) -> None:
    read = read_angle(text, axis, unit, side=side)
    assert read is not None
    assert read.degrees == pytest.approx(degrees, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "axis", "unit", "side"),
    [
        ("47.1E", "lat", "deg", ""),
        ("20.3N", "lon", "deg", ""),
        ("-47.1", "lat", "deg", "S"),
        ("-47.1S", "lat", "deg", ""),
        ("47.1N", "lat", "deg", "S"),
        ("47.1", "lat", "deg", "X"),
        ("47°61'", "lat", "deg", ""),
        ("4761.00", "lat", "ddmm", ""),
        ("47.1", "lat", "ddmm", ""),
        ("47,1", "lat", "deg", ""),
        ("N", "lat", "deg", ""),
        ("47.1.2", "lat", "deg", ""),
    ],
)
def test_what_contradicts_itself_is_no_angle(text: str, axis: str, unit: str, side: str) -> None:
    assert read_angle(text, axis, unit, side=side) is None


@given(
    degrees=st.integers(0, 89),
    minutes=st.integers(0, 59_999),
    south=st.booleans(),
)
def test_the_same_place_however_it_is_written(degrees: int, minutes: int, south: bool) -> None:
    side, sign = ("S", -1.0) if south else ("N", 1.0)
    wanted = sign * (degrees + minutes / 60_000.0)
    told = f"{minutes / 1000.0:06.3f}"
    for text, unit in (
        (f"{degrees:02d}{told}{side}", "ddmm"),
        (f"{degrees}°{told}'{side}", "deg"),
        (f"{degrees} {told} {side}", "deg"),
        (f"{abs(wanted):.9f}{side}", "deg"),
        (f"{wanted:.9f}", "deg"),
        (f"{round(wanted * 1e7)}", "1e-7 deg"),
    ):
        read = read_angle(text, "lat", unit)
        assert read is not None, text
        assert read.degrees == pytest.approx(wanted, abs=6e-8), text


@given(text=st.text(max_size=60), unit=st.sampled_from(["deg", "ddmm", "ddmmss", "1e-7 deg"]))
def test_any_text_is_an_angle_or_none(text: str, unit: str) -> None:
    for form in NumberForm:
        read = read_angle(text, "lat", unit, form)
        assert read is None or read.step_deg > 0.0


def delimited(line: str, columns: tuple[str, ...], **more: object) -> Read:
    settings = DelimitedSettings(columns=columns, tracker="x", **more)  # type: ignore[arg-type]
    (read,) = DelimitedDecoder(settings).decode(line.encode(), NOW)
    return read


def test_the_southern_hemisphere_is_not_the_northern() -> None:
    units = {"lat": "ddmm", "lon": "ddmm"}
    line = "4706.00,S,02018.00,W,900"
    read = delimited(line, ("lat", "lat_side", "lon", "lon_side", "alt_m"), units=units)
    assert isinstance(read, Report)
    assert (read.latitude_deg, read.longitude_deg) == pytest.approx((-47.1, -20.3))
    skipped = delimited(line, ("lat", "", "lon"), units=units)
    assert isinstance(skipped, Unreadable)
    assert "name it lat_side" in skipped.detail
    skipped = delimited("4706.00,N,02018.00,W", ("lat", "", "lon"), units=units)
    assert isinstance(skipped, Unreadable)
    assert "name it lon_side" in skipped.detail


def test_units_that_stand_beside_the_number() -> None:
    read = delimited(
        "47.1N;20.3E;1,500 ft;3900mV;-12.5°C;36kt",
        ("lat", "lon", "alt_m", "battery_v", "temperature_c", "speed_ms"),
        separator=";",
        numbers=NumberForm.POINT_GROUPED,
    )
    assert isinstance(read, Report)
    assert read.altitude_m == pytest.approx(457.2)
    assert dict(read.telemetry) == pytest.approx({"battery_v": 3.9, "temperature_c": -12.5})
    assert read.speed_ms == pytest.approx(18.52)
    assert read.unread == ()
    read = delimited("47.1;20.3;1234m", ("lat", "lon", "alt_m"), separator=";")
    assert isinstance(read, Report)
    assert read.altitude_m == 1234.0


def test_a_unit_that_is_not_one_of_the_value_leaves_it_unread() -> None:
    read = delimited("47.1;20.3;1234 kg", ("lat", "lon", "alt_m"), separator=";")
    assert isinstance(read, Report)
    assert read.altitude_m is None
    assert read.unread == (("alt_m", "1234 kg"),)


def test_decimal_commas() -> None:
    read = delimited(
        "47,1000;20,3000;1234,5", ("lat", "lon", "alt_m"), separator=";", numbers=NumberForm.COMMA
    )
    assert isinstance(read, Report)
    assert (read.latitude_deg, read.longitude_deg, read.altitude_m) == (47.1, 20.3, 1234.5)
    told = delimited("47,1000;20,3000;1234,5", ("lat", "lon", "alt_m"), separator=";")
    assert isinstance(told, Unreadable)


def test_how_fine_a_place_is_told_does_not_come_from_printed_digits() -> None:
    def packed(kind: str, scale: float, data: bytes) -> Report:
        size = 4 if kind != "f64" else 8
        layout = (
            PackedField(name="lat", type=kind, at=0, scale=scale),
            PackedField(name="lon", type=kind, at=size, scale=scale),
        )
        settings = JsonSettings(
            fields={"tracker": "id"},
            packed=PackedSettings(path="d", layout=layout, encoding=Encoding.HEX),
        )
        message = b'{"id": "x", "d": "' + data.hex().encode() + b'"}'
        (read,) = JsonDecoder(settings).decode(message, NOW)
        assert isinstance(read, Report)
        return read

    whole = (470_000_000).to_bytes(4, "big") + (200_000_000).to_bytes(4, "big")
    assert packed("i32", 1e-7, whole).uncertainty_m == pytest.approx(0.0056, abs=1e-3)
    # 47.1 and 20.3 as IEEE 754 single precision: steps of 2^-18 and 2^-19 degrees.
    single = bytes.fromhex("423c666641a26666")
    assert 0.05 < packed("f32", 1.0, single).uncertainty_m < 0.5
    read = delimited("47.123456789012345,20.3", ("lat", "lon"))
    assert isinstance(read, Report)
    assert read.uncertainty_m > 1e-3


def test_keys_with_a_dot_and_places_in_a_text() -> None:
    def read(fields: dict[str, str], message: bytes) -> Report:
        (told,) = JsonDecoder(JsonSettings(fields=fields, tracker="x")).decode(message, NOW)
        assert isinstance(told, Report), told
        assert (told.latitude_deg, told.longitude_deg) == (47.1, 20.3)
        return told

    read({"lat": 'a."pos.lat"', "lon": 'a."pos.lon"'}, b'{"a":{"pos.lat":47.1,"pos.lon":20.3}}')
    read({"lat": "loc.0", "lon": "loc.1"}, b'{"loc": "47.1, 20.3"}')
    read({"lat": "p.lat", "lon": "p.lon"}, b'{"p": "{\\"lat\\": 47.1, \\"lon\\": 20.3}"}')
    read({"lat": "1", "lon": "2"}, b"[0, 47.1, 20.3]")
    read({"lat": "1", "lon": "2"}, b"[[0, 47.1, 20.3]]")
