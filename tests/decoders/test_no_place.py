"""Messages without a place that tell a height, in every form of named values."""

import json

import pytest

from groundstation.decoders.decoder import Decoder
from groundstation.decoders.delimited import DelimitedDecoder, DelimitedSettings
from groundstation.decoders.json_map import JsonDecoder, JsonSettings
from groundstation.decoders.named_values import named_values
from groundstation.decoders.pairs import PairsDecoder, PairsSettings
from groundstation.decoders.pattern import PatternDecoder, PatternSettings
from groundstation.errors import ConfigurationError
from groundstation.records import HeightReport, Reason, Report, Unreadable

FIELDS = {name: name for name in ("time", "lat", "lon", "alt_m", "pressure_hpa", "valid")}
JSON = JsonDecoder(JsonSettings(fields=FIELDS, tracker="kanalas-1"))
NOON = 1_778_932_800.0  # 2026-05-16T12:00:00Z


def read(**values: object) -> HeightReport | Report | Unreadable:
    message = {"time": "2026-05-16T12:00:00Z", **values}
    (found,) = JSON.decode(json.dumps(message).encode(), NOON)
    return found


@pytest.mark.parametrize(
    ("decoder", "data"),
    [
        (JSON, b'{"time": "2026-05-16T12:00:00Z", "lat": null, "lon": null, "alt_m": 15210.5}'),
        (
            DelimitedDecoder(DelimitedSettings(tracker="kanalas-1")),
            b"2026-05-16T12:00:00Z,,,15210.5",
        ),
        (
            DelimitedDecoder(DelimitedSettings(columns=("time", "alt_m"), tracker="kanalas-1")),
            b"2026-05-16T12:00:00Z,15210.5",
        ),
        (
            PairsDecoder(PairsSettings(fields=FIELDS, between="=", tracker="kanalas-1")),
            b"time=2026-05-16T12:00:00Z\nalt_m=15210.5 m",
        ),
        (
            PatternDecoder(
                PatternSettings(
                    pattern=r"(?P<time>\S+Z) (?:(?P<lat>[-0-9.]+) (?P<lon>[-0-9.]+) )?"
                    r"height (?P<alt_m>[-0-9.]+)",
                    tracker="kanalas-1",
                )
            ),
            b"Still up: 2026-05-16T12:00:00Z height 15210.5 m",
        ),
    ],
)
def test_a_height_without_a_place_is_read_in_every_form(decoder: Decoder, data: bytes) -> None:
    (found,) = decoder.decode(data, NOON + 5.0)
    assert found == HeightReport(tracker="kanalas-1", altitude_m=15_210.5, time_utc=NOON)


def test_a_pressure_tells_the_height_where_the_receiver_has_no_fix() -> None:
    """Whatever stands there for the place: nothing, zeros, or the last one that was known."""
    for place in (
        {},
        {"lat": 0.0, "lon": 0.0, "alt_m": 0},
        {"lat": 47.1, "lon": 20.3, "alt_m": 12_000, "valid": "no fix"},
    ):
        found = read(pressure_hpa=100.0, **place)
        assert isinstance(found, HeightReport), place
        assert (found.altitude_m, found.pressure_pa) == (None, 10_000.0)
        assert ("pressure_hpa", 100.0) in found.telemetry


def test_what_a_receiver_without_a_fix_makes_up_is_no_height() -> None:
    for values in (
        {"alt_m": 0},
        {"alt_m": 12_000, "valid": "no fix"},
        {"alt_m": -9_999},
        {"pressure_hpa": 0.0},
        {"pressure_hpa": 2_000.0},
    ):
        found = read(**values)
        assert isinstance(found, Unreadable), values
        assert found.reason is Reason.NO_FIX


def test_with_a_place_it_is_a_fix_as_ever() -> None:
    found = read(lat=47.1, lon=20.3, alt_m=15_210.5, pressure_hpa=110.0)
    assert isinstance(found, Report)
    assert found.telemetry == (("pressure_hpa", 110.0),)


def test_settings_that_forget_the_place_are_told_so() -> None:
    """Unless they name a height and nothing that looks like a place by another name."""
    settings = JsonSettings(fields={"alt_m": "a"}, tracker="x")
    named_values(("alt_m", "battery_v"), settings, "fields")
    named_values(("pressure_hpa",), settings, "fields")
    for names in (("alt_m", "latitude"), ("alt_m", "lat"), ("battery_v",), ("pressure_hpa", "lng")):
        with pytest.raises(ConfigurationError, match="does not name"):
            named_values(names, settings, "fields")
