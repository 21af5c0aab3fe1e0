"""JSON (RFC 8259) by a map of fields."""

import json

import pytest

from groundstation.decoders.json_map import (
    MAX_JSON_BYTES,
    GatewaySettings,
    JsonDecoder,
    JsonSettings,
)
from groundstation.decoders.time_formats import TimeFormat
from groundstation.errors import ConfigurationError
from groundstation.records import Read, Reason, Report, Unreadable

NESTED = JsonSettings(
    fields={
        "tracker": "device.id",
        "time": "at",
        "lat": "position.0",
        "lon": "position.1",
        "alt_m": "position.2",
        "speed_ms": "speed",
        "battery_v": "battery",
    },
    units={"alt_m": "ft", "speed_ms": "kt", "battery_v": "mV"},
    time_format=TimeFormat.UNIX_MS,
)
FLAT = JsonSettings(fields={"lat": "lat", "lon": "lon", "alt_m": "alt"}, tracker="kanalas-1")


def records(settings: JsonSettings, message: bytes | str) -> tuple[Read, ...]:
    data = message.encode() if isinstance(message, str) else message
    return JsonDecoder(settings).decode(data, 1.7e9)


def report(settings: JsonSettings, message: bytes | str) -> Report:
    (found,) = records(settings, message)
    assert isinstance(found, Report), found
    return found


def refusal(settings: JsonSettings, message: bytes | str) -> Unreadable:
    (found,) = records(settings, message)
    assert isinstance(found, Unreadable), found
    assert found.detail.endswith(".")
    return found


def test_a_nested_message_in_other_units() -> None:
    message = {
        "device": {"id": "Q0HAB-11"},
        "at": 1714740905250,
        "position": [47.10012, 20.30034, 1000],
        "speed": "10",
        "battery": 3710,
        "unused": {"deep": [None]},
    }
    found = report(NESTED, json.dumps(message))
    assert found.tracker == "Q0HAB-11"
    assert found.time_utc == 1714740905.25
    assert (found.latitude_deg, found.longitude_deg) == (47.10012, 20.30034)
    assert found.altitude_m == pytest.approx(304.8)
    assert found.speed_ms == pytest.approx(5.144444)
    assert dict(found.telemetry) == pytest.approx({"battery_v": 3.71})
    assert found.uncertainty_m == pytest.approx(0.5e-5 * 111_120)


def test_lists_at_the_top_and_at_a_path() -> None:
    one, two = {"lat": 47.1, "lon": 20.3}, {"lat": 47.2, "lon": 20.4}
    settings = JsonSettings(fields=FLAT.fields, tracker="x", records="answer.items")
    at_path = records(settings, json.dumps({"answer": {"items": [one, 5, two]}}))
    assert [type(found) for found in at_path] == [Report, Unreadable, Report]
    assert len(records(FLAT, json.dumps([one, two]))) == 2
    assert refusal(settings, "{}").reason is Reason.UNREADABLE
    assert refusal(FLAT, "[]").reason is Reason.NO_POSITION


def test_a_broken_sensor_does_not_lose_the_position() -> None:
    settings = JsonSettings(
        fields={"lat": "lat", "lon": "lon", "humidity": "h", "battery_v": "b"}, tracker="x"
    )
    found = report(settings, '{"lat": 47.1, "lon": 20.3, "h": NaN, "b": true}')
    assert found.telemetry == ()


@pytest.mark.parametrize(
    ("message", "reason"),
    [
        ("", Reason.UNREADABLE),
        ("{", Reason.UNREADABLE),
        ("5", Reason.UNREADABLE),
        ("null", Reason.UNREADABLE),
        (b"\xff\xfe{}", Reason.UNREADABLE),
        ("{}", Reason.NO_FIX),
        ('{"lat": null, "lon": 20.3}', Reason.NO_FIX),
        ('{"lat": [47.1], "lon": 20.3}', Reason.NO_FIX),
        ('{"lat": NaN, "lon": 20.3}', Reason.UNREADABLE),
        ('{"lat": 47.1, "lon": -Infinity}', Reason.UNREADABLE),
        ('{"lat": 1e999, "lon": 20.3}', Reason.UNREADABLE),
        ('{"lat": true, "lon": 20.3}', Reason.UNREADABLE),
        ('{"lat": "north", "lon": 20.3}', Reason.UNREADABLE),
        ('{"lat": 47.1, "lon": 20.3, "lat": 0}', Reason.UNREADABLE),
        ('{"lat": 1' + "0" * 5000 + ', "lon": 20.3}', Reason.UNREADABLE),
        ('{"lat": 90.5, "lon": 20.3}', Reason.IMPOSSIBLE),
        ("[" * 100_000, Reason.UNREADABLE),
        ('{"a":' * 100_000, Reason.UNREADABLE),
        (b" " * (MAX_JSON_BYTES + 1), Reason.TOO_LONG),
    ],
)
def test_messages_that_hold_no_position(message: bytes | str, reason: Reason) -> None:
    assert refusal(FLAT, message).reason is reason


def test_a_message_without_its_sender() -> None:
    found = refusal(NESTED, '{"position": [47.1, 20.3]}')
    assert "which tracker" in found.detail


def test_text_that_no_store_can_hold_is_made_harmless() -> None:
    settings = JsonSettings(fields={"lat": "lat", "lon": "lon", "tracker": "id", "comment": "c"})
    found = report(settings, r'{"lat": 1.5, "lon": 2.5, "id": "a\ud800\u0000", "c": "\n\udfff"}')
    assert found.tracker == "a?"
    assert found.comment == "?"


@pytest.mark.parametrize(
    ("settings", "message"),
    [
        (JsonSettings(fields={"lat": "a", "lon": "b"}), "tracker"),
        (JsonSettings(fields={"lat": "a"}, tracker="x"), "lon"),
        (JsonSettings(fields={"lat": "a", "lon": ""}, tracker="x"), "empty path"),
        (JsonSettings(fields={"lat": "a", "lon": "b", "Alt": "c"}, tracker="x"), "Alt"),
    ],
)
def test_settings_that_cannot_work(settings: JsonSettings, message: str) -> None:
    with pytest.raises(ConfigurationError, match=message):
        JsonDecoder(settings)


def test_signal_and_noise_of_every_gateway_are_kept_and_the_best_comes_first() -> None:
    message = (
        b'{"lat": 47.1, "lon": 20.3, "rx": [{"gw": {"id": "Far 1"}, "rssi": -80, "snr": -3.5},'
        b' {"gw": {"id": "near"}, "rssi": "-97", "snr": 7.5}, {"rssi": 1}, null, {"gw": 3}]}'
    )
    settings = JsonSettings(
        fields={"lat": "lat", "lon": "lon"},
        tracker="x",
        gateways=GatewaySettings(path="rx", name="gw.id", signal="rssi", noise="snr"),
    )
    (found,) = JsonDecoder(settings).decode(message, 1_778_922_000.0)
    assert isinstance(found, Report)
    assert found.path == ("near", "Far 1")
    assert dict(found.telemetry) == {
        "signal_dbm": -97.0,
        "snr_db": 7.5,
        "signal_near_dbm": -97.0,
        "snr_near_db": 7.5,
        "signal_far_1_dbm": -80.0,
        "snr_far_1_db": -3.5,
    }
    (alone,) = JsonDecoder(settings).decode(b'{"lat": 47.1, "lon": 20.3, "rx": 5}', 1_778_922_000.0)
    assert isinstance(alone, Report)
    assert alone.telemetry == ()


@pytest.mark.parametrize("placeholder", ["-9999", "999999", "-32768"])
def test_a_height_that_stands_for_none_leaves_the_place(placeholder: str) -> None:
    settings = JsonSettings(fields={"lat": "lat", "lon": "lon", "alt_m": "alt"}, tracker="x")
    message = f'{{"lat": 47.1, "lon": 20.3, "alt": {placeholder}}}'.encode()
    (found,) = JsonDecoder(settings).decode(message, 1_778_922_000.0)
    assert isinstance(found, Report)
    assert found.altitude_m is None
    assert found.unread == (("alt_m", placeholder),)
