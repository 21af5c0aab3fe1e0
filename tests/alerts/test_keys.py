"""An alert is known by its key, whatever stands in its parts, and in the databases of before."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation.flight.alert_records import AlertKey
from groundstation.records import AlertKind

BEGUN_UTC = 1_780_000_000
"""2026-05-28T20:26:40Z (GNU date, ``date -u -d @1780000000``)."""


@given(
    payload=st.text(),
    begun_utc=st.none() | st.integers(min_value=0, max_value=4_000_000_000),
    kind=st.sampled_from(AlertKind),
    occasion=st.text(),
)
def test_a_key_comes_back_from_its_text(
    payload: str, begun_utc: int | None, kind: AlertKind, occasion: str
) -> None:
    key = AlertKey(payload=payload, begun_utc=begun_utc, kind=kind, occasion=occasion)
    assert AlertKey.of(key.text) == key
    assert key.text.count("/") == 3


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("k/20260528T202640Z/burst/1", ("k", BEGUN_UTC, AlertKind.BURST, "1")),
        (
            "k/20260528T202640Z/keep-out/field A/B",
            ("k", BEGUN_UTC, AlertKind.KEEP_OUT, "field A/B"),
        ),
        ("a/b/20260528T202640Z/landed/1", ("a/b", BEGUN_UTC, AlertKind.LANDED, "1")),
        ("base/station/base is up/12.500", ("base", None, AlertKind.STATION, "base is up/12.500")),
    ],
)
def test_keys_of_older_databases_are_read(
    text: str, key: tuple[str, int | None, AlertKind, str]
) -> None:
    payload, begun_utc, kind, occasion = key
    assert AlertKey.of(text) == AlertKey(
        payload=payload, begun_utc=begun_utc, kind=kind, occasion=occasion
    )


def test_what_is_no_key_is_refused() -> None:
    for text in ("", "a", "check:12", "k/20260528T202640Z/made-up/1"):
        with pytest.raises(ValueError, match="is not the key of an alert"):
            AlertKey.of(text)


def test_a_jump_of_the_clock_does_not_change_what_was_told() -> None:
    """The name of an area to keep out of may hold a "/" itself."""
    one = AlertKey(payload="k", begun_utc=0, kind=AlertKind.KEEP_OUT, occasion="field A/B")
    two = AlertKey(payload="k", begun_utc=99, kind=AlertKind.KEEP_OUT, occasion="field A/B")
    other = AlertKey(payload="k", begun_utc=99, kind=AlertKind.KEEP_OUT, occasion="field A")
    assert AlertKey.of(one.text).without_begin == two.without_begin != other.without_begin
