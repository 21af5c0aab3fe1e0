"""Text in which a person's own pattern finds the values."""

import pytest

from groundstation.decoders.pattern import MOST_SEARCHED, PatternDecoder, PatternSettings
from groundstation.errors import ConfigurationError
from groundstation.records import Reason, Report, Unreadable

DECODER = PatternDecoder(
    PatternSettings(pattern=r"(?P<lat>-?[0-9.]+), (?P<lon>-?[0-9.]+)", tracker="x")
)


def test_the_place_is_found_anywhere_in_a_usual_mail() -> None:
    (found,) = DECODER.decode(b"Hello!\n" * 400 + b"It is at 47.1, 20.3 now.\n", 0.0)
    assert isinstance(found, Report)
    assert (found.latitude_deg, found.longitude_deg) == (47.1, 20.3)


def test_a_long_text_is_searched_at_its_begin_and_that_is_said() -> None:
    """Digits without end would hold up the whole station: each is a begin of a number."""
    (found,) = DECODER.decode(b"0" * 65_536, 0.0)
    assert found == Unreadable(
        reason=Reason.NO_POSITION,
        detail="The pattern is not found in the first 8,192 characters of the text.",
    )
    (early,) = DECODER.decode(b"47.1, 20.3 " + b" " * 60_000, 0.0)
    assert isinstance(early, Report)


def test_half_a_number_where_the_text_was_cut_is_no_place() -> None:
    told = b"47.1, 20.35"
    for beyond in range(1, len(told)):
        (found,) = DECODER.decode(b" " * (MOST_SEARCHED - len(told) + beyond) + told + b"\n", 0.0)
        assert isinstance(found, Unreadable), beyond


def test_a_wrong_pattern_is_told() -> None:
    with pytest.raises(ConfigurationError, match="pattern is no regular expression"):
        PatternDecoder(PatternSettings(pattern="(?P<lat>[", tracker="x"))
