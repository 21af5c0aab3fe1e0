"""Raw bytes with numbers at fixed places, against the standard library's own packer."""

import binascii
import struct
import zlib
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation.decoders.aprs.settings import AprsSettings
from groundstation.decoders.binary import CHECKSUMS, BinaryDecoder, BinaryEncoding, BinarySettings
from groundstation.decoders.byte_layout import ByteOrder, PackedField
from groundstation.decoders.checksums import CRCS, crc
from groundstation.decoders.framing import BinaryFramer
from groundstation.errors import ConfigurationError
from groundstation.records import Read, Reason, Report, Unreadable
from groundstation.sources.framers import framer_for

NOW = 1_778_922_000.0
PLACE = (
    PackedField(name="lat", type="i32", at=0, scale=1e-7),
    PackedField(name="lon", type="i32", at=4, scale=1e-7),
)
BODY = struct.pack(">ii", 471_000_000, 203_000_000)


def read(data: bytes, *more: PackedField, **settings: Any) -> Read:
    built = BinarySettings(layout=(*PLACE, *more), tracker="x", **settings)
    (found,) = BinaryDecoder(built).decode(data, NOW)
    return found


def values(data: bytes, *more: PackedField, **settings: Any) -> dict[str, float]:
    found = read(data, *more, **settings)
    assert isinstance(found, Report), found
    assert (found.latitude_deg, found.longitude_deg) == pytest.approx((47.1, 20.3))
    return dict(found.telemetry)


# Check values of the catalogue of parametrised CRC algorithms over 123456789 (from memory, but for
# those that a library or facts beside it confirm below).
CATALOGUE = {
    "crc-8": 0xF4,
    "crc-8-maxim": 0xA1,
    "crc-16": 0x29B1,
    "crc-16-x25": 0x906E,
    "crc-16-xmodem": 0x31C3,
    "crc-16-kermit": 0x2189,
    "crc-16-modbus": 0x4B37,
    "crc-32": 0xCBF43926,
}


@pytest.mark.parametrize("name", CRCS)
def test_check_values_of_the_catalogue(name: str) -> None:
    assert crc(b"123456789", CRCS[name]) == CATALOGUE[name]


@given(st.binary(max_size=60))
def test_sums_as_libraries_make_them(data: bytes) -> None:
    assert crc(data, CRCS["crc-32"]) == zlib.crc32(data)
    assert crc(data, CRCS["crc-16"]) == binascii.crc_hqx(data, 0xFFFF)
    assert crc(data, CRCS["crc-16-xmodem"]) == binascii.crc_hqx(data, 0)


@pytest.mark.parametrize("order", list(ByteOrder))
@given(lat=st.integers(-900_000_000, 900_000_000), lon=st.integers(-1_800_000_000, 1_800_000_000))
def test_either_byte_order(order: ByteOrder, lat: int, lon: int) -> None:
    sign = ">" if order is ByteOrder.BIG else "<"
    found = read(struct.pack(f"{sign}ii", lat, lon), byte_order=order)
    assert isinstance(found, Report)
    assert found.latitude_deg == pytest.approx(lat * 1e-7, abs=1e-9)
    assert found.longitude_deg == pytest.approx(lon * 1e-7, abs=1e-9)
    assert found.uncertainty_m == pytest.approx(0.0056, abs=1e-3)


@pytest.mark.parametrize("bits", [8, 16, 24, 32, 40, 48, 64])
@pytest.mark.parametrize("order", list(ByteOrder))
@given(data=st.data())
def test_integers_of_every_width(bits: int, order: ByteOrder, data: st.DataObject) -> None:
    raw = data.draw(st.binary(min_size=bits // 8, max_size=bits // 8))
    for letter, signed in (("u", False), ("i", True)):
        field = PackedField(name="a", type=f"{letter}{bits}", at=-(bits // 8), byte_order=order)
        expected = float(int.from_bytes(raw, order.value, signed=signed))
        assert values(BODY + raw, field) == {"a": expected}


def test_bits_scales_and_what_is_missing() -> None:
    tail = bytes([0b1_01101_10, 0xFF])
    told = values(
        BODY + tail,
        PackedField(name="flag", type="u8", at=8, bit=7, bits=1),
        PackedField(name="five", type="u8", at=8, bit=2, bits=5),
        PackedField(name="two", type="i8", at=8, bit=0, bits=2),
        PackedField(name="battery_v", type="u8", at=9, scale=0.02, missing=255),
        PackedField(name="temperature_c", type="i8", at=9, scale=0.5, add=-10.0),
    )
    assert told == {"flag": 1.0, "five": 13.0, "two": -2.0, "temperature_c": -10.5}


def test_text_and_decimal_digits() -> None:
    fields = (
        PackedField(name="tracker", type="text", at=8, length=8),
        PackedField(name="time", type="bcd", at=16, length=3),
    )
    found = read(BODY + b"Q0HAB\x00\x00\x00" + bytes.fromhex("085930"), *fields, time_format="hms")
    assert isinstance(found, Report)
    assert found.tracker == "Q0HAB"
    assert found.time_utc == NOW - 30.0
    found = read(BODY + bytes(8) + bytes.fromhex("0a0000"), *fields, time_format="hms")
    assert isinstance(found, Unreadable)


def test_a_time_in_seconds_since_1970() -> None:
    found = read(BODY + int(NOW).to_bytes(4, "big"), PackedField(name="time", type="u32", at=8))
    assert isinstance(found, Report)
    assert found.time_utc == NOW


@pytest.mark.parametrize("name", [one for one in CHECKSUMS if one != "none"])
def test_a_wrong_checksum_is_refused(name: str) -> None:
    body = b"\x55" + BODY
    layout = tuple(replace(one, at=one.at + 1) for one in PLACE)
    total = {"xor": 0, "sum-8": sum(body) & 0xFF}.get(name, 0)
    if name == "xor":
        for byte in body:
            total ^= byte
    size = CRCS[name].bits // 8 if name in CRCS else 1
    total = crc(body, CRCS[name]) if name in CRCS else total
    whole = body + total.to_bytes(size, "little")
    settings = BinarySettings(
        layout=layout, tracker="x", start="55", checksum=name, checksum_order=ByteOrder.LITTLE
    )
    (good,) = BinaryDecoder(settings).decode(whole, NOW)
    assert isinstance(good, Report), good
    for at in range(1, len(whole)):
        damaged = bytearray(whole)
        damaged[at] ^= 0x10
        (bad,) = BinaryDecoder(settings).decode(bytes(damaged), NOW)
        assert isinstance(bad, Unreadable)
        assert bad.reason is Reason.CHECKSUM


@pytest.mark.parametrize(
    ("data", "encoding"),
    [
        (BODY.hex().encode(), BinaryEncoding.HEX),
        (BODY.hex(" ").upper().encode() + b"\r\n", BinaryEncoding.HEX),
        (binascii.b2a_base64(BODY), BinaryEncoding.BASE64),
    ],
)
def test_bytes_as_text(data: bytes, encoding: BinaryEncoding) -> None:
    assert values(data, encoding=encoding) == {}


@pytest.mark.parametrize(
    "changes",
    [
        {"start": "5"},
        {"start": "xy"},
        {"length": 4},
        {"checksum": "crc-7"},
        {"layout": PLACE[:1]},
        {"layout": (*PLACE, PackedField(name="a", type="u8", at=0, bit=5, bits=4))},
        {"layout": (*PLACE, PackedField(name="a", type="text", at=0))},
        {"layout": (*PLACE, PackedField(name="a", type="u16", at=-1))},
        {"time_format": "nope"},
    ],
)
def test_settings_that_cannot_work(changes: dict[str, Any]) -> None:
    settings = replace(BinarySettings(layout=PLACE, tracker="x"), **changes)
    with pytest.raises(ConfigurationError):
        BinaryDecoder(settings)


STREAM = BinarySettings(
    layout=tuple(replace(one, at=one.at + 2) for one in PLACE),
    tracker="x",
    start="AA 55",
    length=12,
    checksum="crc-16",
)
FRAME = b"\xaa\x55" + BODY
FRAME += binascii.crc_hqx(FRAME, 0xFFFF).to_bytes(2, "big")


def test_a_stream_is_cut_whole_and_byte_by_byte() -> None:
    stream = b"noise\xaa" + FRAME + b"\xaa\x55" + FRAME + b"more" + FRAME[:5]
    for pieces in ([stream], [bytes([byte]) for byte in stream]):
        framer = framer_for(STREAM)
        frames = [frame for piece in pieces for frame in framer.feed(piece)]
        assert frames.count(FRAME) == 2
        assert framer.flush() == [FRAME[:5]]


@given(noise=st.binary(max_size=200), cut=st.integers(1, 60))
def test_noise_is_bounded_and_a_frame_after_it_is_found(noise: bytes, cut: int) -> None:
    framer = framer_for(STREAM)
    stream = noise + bytes(12) + FRAME
    frames: list[bytes] = []
    for at in range(0, len(stream), cut):
        frames += framer.feed(stream[at : at + cut])
    assert FRAME in frames
    assert sum(map(len, frames)) <= 2 * len(stream)


def test_a_stream_of_bytes_needs_a_mark_and_a_length() -> None:
    with pytest.raises(ConfigurationError, match="start and length"):
        framer_for(BinarySettings(layout=PLACE, tracker="x"))
    assert not isinstance(framer_for(AprsSettings()), BinaryFramer)
