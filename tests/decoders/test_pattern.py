"""Text in which a person's own pattern finds the values."""

import time

import pytest

from groundstation.decoders.aprs.comment import FieldReader
from groundstation.decoders.aprs.settings import CommentField
from groundstation.decoders.pattern import MOST_BYTES, PatternDecoder, PatternSettings
from groundstation.errors import ConfigurationError
from groundstation.records import Reason, Report, Unreadable

DECODER = PatternDecoder(
    PatternSettings(pattern=r"(?P<lat>-?[0-9.]+), (?P<lon>-?[0-9.]+)", tracker="x")
)


def test_the_place_is_found_anywhere_in_a_text() -> None:
    for before in (b"Hello!\n" * 400, b" " * (MOST_BYTES - 20), "Höhe und Ort: ".encode()):
        (found,) = DECODER.decode(before + b"47.1, 20.3 now", 0.0)
        assert isinstance(found, Report)
        assert (found.latitude_deg, found.longitude_deg) == (47.1, 20.3)


def cost_s(decoder: PatternDecoder, data: bytes) -> float:
    """Of processor time."""
    begun = time.process_time()
    (found,) = decoder.decode(data, 0.0)
    assert isinstance(found, Unreadable)
    assert found.reason is Reason.NO_POSITION
    return time.process_time() - begun


@pytest.mark.parametrize(
    ("pattern", "letter"),
    [
        (r"(?P<lat>-?[0-9.]+), (?P<lon>-?[0-9.]+)", b"9"),
        (r"(?:a+)+b(?P<lat>[0-9]+) (?P<lon>[0-9]+)", b"a"),
        (r"(?:a|a?)+c(?P<lat>[0-9]+) (?P<lon>[0-9]+)", b"a"),
    ],
)
def test_no_text_holds_up_the_station_whatever_the_pattern(pattern: str, letter: bytes) -> None:
    """By Python's engine the first takes time with the square of the text, the others with a power
    of two: not one of 64 KiB ends. Here sixteen times the text takes about sixteen times as long;
    256 times would be the square."""
    decoder = PatternDecoder(PatternSettings(pattern=pattern, tracker="x"))
    cost_s(decoder, letter * 100)
    short = min(cost_s(decoder, letter * (MOST_BYTES // 16)) for _ in range(5))
    whole = min(cost_s(decoder, letter * MOST_BYTES) for _ in range(5))
    assert whole < 60.0 * max(short, 1e-4)


@pytest.mark.parametrize(
    ("pattern", "says"),
    [
        ("(?P<lat>[", "pattern is no regular expression"),
        (r"(?P<lat>1)(?<![0-9])(?P<lon>2)", "write it without"),
        (r"(?P<lat>1)\1(?P<lon>2)", "write it without"),
    ],
)
def test_a_wrong_pattern_is_told(pattern: str, says: str) -> None:
    with pytest.raises(ConfigurationError, match=says):
        PatternDecoder(PatternSettings(pattern=pattern, tracker="x"))


def test_a_comments_pattern_may_repeat_what_repeats() -> None:
    reader = FieldReader((CommentField(name="battery_v", pattern="(?:a+)+([0-9.]+)V"),))
    assert reader.read("aaaa3.9V") == {"battery_v": 3.9}
    with pytest.raises(ConfigurationError, match="battery_v is no regular expression"):
        FieldReader((CommentField(name="battery_v", pattern="(?<=x)([0-9]+)V"),))
