"""Numbers packed into bytes. Layouts are packed here with ``struct``, not with the decoder."""

import base64
import json
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation.decoders.byte_layout import ByteOrder, Encoding, PackedField, PackedSettings
from groundstation.decoders.json_map import JsonDecoder, JsonSettings
from groundstation.errors import ConfigurationError
from groundstation.records import Report, Unreadable

LAYOUT = (
    PackedField(name="lat", type="i32", at=0, scale=1e-7),
    PackedField(name="lon", type="i32", at=4, scale=1e-7),
    PackedField(name="alt_m", type="u16", at=8, missing=0xFFFF),
    PackedField(name="temperature_c", type="i8", at=10, scale=0.5, add=-10.0),
    PackedField(name="battery_v", type="u8", at=11, scale=0.02),
    PackedField(name="pressure_hpa", type="f32", at=12),
)


def settings(order: ByteOrder, encoding: Encoding = Encoding.BASE64) -> JsonSettings:
    return JsonSettings(
        fields={"tracker": "device.name", "time": "at"},
        packed=PackedSettings(
            path="uplink.data", layout=LAYOUT, byte_order=order, encoding=encoding
        ),
    )


def message(packed: str) -> bytes:
    told = {
        "device": {"name": "Q0HAB-15"},
        "at": "2026-05-16T09:00:00Z",
        "uplink": {"data": packed},
    }
    return json.dumps(told).encode()


def packed(order: str, altitude: int = 21_345) -> bytes:
    return struct.pack(f"{order}iiHbBf", 471_000_123, -203_000_456, altitude, -41, 205, 45.25)


@pytest.mark.parametrize("order", list(ByteOrder))
@pytest.mark.parametrize("encoding", list(Encoding))
def test_a_layout_is_read(order: ByteOrder, encoding: Encoding) -> None:
    data = packed(">" if order is ByteOrder.BIG else "<")
    text = data.hex() if encoding is Encoding.HEX else base64.b64encode(data).decode()
    (found,) = JsonDecoder(settings(order, encoding)).decode(message(text), 0.0)
    assert isinstance(found, Report)
    assert found.tracker == "Q0HAB-15"
    assert found.time_utc == 1_778_922_000.0
    assert found.latitude_deg == pytest.approx(47.1000123, abs=1e-9)
    assert found.longitude_deg == pytest.approx(-20.3000456, abs=1e-9)
    assert found.altitude_m == 21_345.0
    telemetry = dict(found.telemetry)
    assert telemetry["temperature_c"] == -30.5
    assert telemetry["battery_v"] == pytest.approx(4.1)
    assert telemetry["pressure_hpa"] == 45.25


def test_the_url_form_without_padding() -> None:
    """RFC 4648 section 5."""
    text = base64.urlsafe_b64encode(packed(">") + b"\xff\xfe").decode().rstrip("=")
    assert "_" in text or "-" in text
    (found,) = JsonDecoder(settings(ByteOrder.BIG)).decode(message(text), 0.0)
    assert isinstance(found, Report)


def test_a_missing_height_is_none() -> None:
    text = base64.b64encode(packed(">", 0xFFFF)).decode()
    (found,) = JsonDecoder(settings(ByteOrder.BIG)).decode(message(text), 0.0)
    assert isinstance(found, Report)
    assert found.altitude_m is None


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "holds no packed bytes"),
        ("!!!!", "not base64"),
        ("AAAA", "are 3, and the layout needs 16"),
        ("A" * 4_000, "not base64"),
    ],
)
def test_bad_bytes_are_said(text: str, says: str) -> None:
    (found,) = JsonDecoder(settings(ByteOrder.BIG)).decode(message(text), 0.0)
    assert isinstance(found, Unreadable)
    assert says in found.detail


@given(st.binary(max_size=64) | st.text(max_size=64).map(lambda text: text.encode()))
def test_any_bytes_give_a_record(data: bytes) -> None:
    text = base64.b64encode(data).decode()
    for order in ByteOrder:
        decoder = JsonDecoder(settings(order))
        assert len(decoder.decode(message(text), 0.0)) == 1
        assert len(decoder.decode(message(data.decode("latin-1")), 0.0)) == 1


@pytest.mark.parametrize(
    ("field", "says"),
    [
        (PackedField(name="lat", type="u12", at=0), "u12"),
        (PackedField(name="lat", type="u16", at=-1), "over the end"),
        (PackedField(name="lat", type="u8", at=4096), "no byte 4096"),
        (PackedField(name="lon", type="u8", at=0), "more than once"),
    ],
)
def test_layouts_that_cannot_be(field: PackedField, says: str) -> None:
    layout = (field, PackedField(name="lon", type="u8", at=1))
    with pytest.raises(ConfigurationError, match=says):
        JsonDecoder(JsonSettings(tracker="x", packed=PackedSettings(path="data", layout=layout)))
