"""Telemetry in base 91 in the text of a position: its characters are nothing else."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation.decoders.aprs.decode import AprsDecoder
from groundstation.decoders.aprs.settings import AprsSettings
from groundstation.records import Report

HEAD = b"Q0HAB-11>APZ001:!4903.50N/07201.75WO"
PAIRS = st.binary(min_size=4, max_size=14).map(
    lambda raw: bytes(33 + byte % 91 for byte in raw[: len(raw) // 2 * 2])
)


def read(comment: bytes) -> Report:
    (report,) = AprsDecoder(AprsSettings()).decode(HEAD + comment, 1_778_922_000.0)
    assert isinstance(report, Report)
    return report


def test_what_looks_like_further_digits_inside_telemetry_moves_nothing() -> None:
    plain = read(b"hello")
    moved = read(b"hello|ab!w99!e|")
    assert moved.latitude_deg == plain.latitude_deg
    assert moved.longitude_deg == plain.longitude_deg


def test_further_digits_beside_telemetry_are_kept() -> None:
    alone = read(b"!wr]!")
    for comment in (b"!wr]!|ab!w99!e|", b"|ab!w99!e|!wr]!"):
        both = read(comment)
        assert both.latitude_deg == alone.latitude_deg
        assert both.longitude_deg == alone.longitude_deg
    assert alone.latitude_deg != read(b"").latitude_deg


def test_an_altitude_inside_telemetry_is_none() -> None:
    assert read(b"|a/A=001234|").altitude_m is None


@given(pairs=PAIRS, words=st.text("abc .,/()", max_size=20))
def test_telemetry_of_any_characters_changes_nothing_else(pairs: bytes, words: str) -> None:
    with_it = read(words.encode() + b"|" + pairs + b"|")
    without = read(words.encode())
    assert with_it.latitude_deg == without.latitude_deg
    assert with_it.altitude_m == without.altitude_m
    assert with_it.comment == without.comment


@pytest.mark.parametrize("comment", [b"|", b"||", b"|a|", b"a|b|c", b"|abc|", b"|" * 300])
def test_bars_without_telemetry_stay_in_the_text(comment: bytes) -> None:
    assert read(comment).comment.startswith("|" if comment[:1] == b"|" else "a")
