"""A few seconds of what ``python -m benchmarks.fuzz`` does for ten minutes each."""

from pathlib import Path
from typing import get_args

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchmarks.fuzz_targets import targets
from groundstation.decoders.build import DecoderSettings
from groundstation.decoders.feeds import FeedForm, FeedSettings
from tests.support.noise import SETTINGS

NAMES = tuple(targets(Path("/nonexistent")))
TOKENS = (
    b"\x00",
    b'"',
    b"{",
    b"[" * 300,
    b"]",
    b"<",
    b"&#x0;",
    b"1e999",
    b"-",
    b"NaN",
    b"\xff",
    b",",
)


def test_every_kind_of_decoder_is_fuzzed_and_given_noise() -> None:
    """One that is added to ``decoders/build.py`` and forgotten here fails."""
    kinds = set(get_args(DecoderSettings))
    fuzzed = [one for each in targets(Path("/nonexistent")).values() for one in each.decoders]
    assert {type(one) for one in fuzzed} == kinds
    assert {type(one) for one in SETTINGS.values()} == kinds
    # A feed is a decoder for each of its forms.
    forms = {one.form for one in fuzzed if isinstance(one, FeedSettings)}
    noisy = {one.form for one in SETTINGS.values() if isinstance(one, FeedSettings)}
    assert forms == noisy == set(FeedForm)


@st.composite
def damaged(draw: st.DrawFn, seeds: tuple[bytes, ...]) -> bytes:
    """A good message with some bytes changed, put in, cut out or repeated."""
    data = bytearray(draw(st.sampled_from(seeds)))
    for _ in range(draw(st.integers(0, 5))):
        at = draw(st.integers(0, len(data)))
        match draw(st.integers(0, 3)):
            case 0:
                data[at : at + 1] = draw(st.binary(max_size=4))
            case 1:
                data[at:at] = draw(st.sampled_from(TOKENS))
            case 2:
                del data[at : at + draw(st.integers(1, 20))]
            case _:
                data[at:at] = bytes(data[at : at + 30]) * draw(st.integers(1, 40))
    return bytes(data)


@pytest.mark.parametrize("name", [name for name in NAMES if name != "push"])
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_damage_is_survived(name: str, tmp_path: Path, data: st.DataObject) -> None:
    target = targets(tmp_path)[name]
    target.one(data.draw(damaged(target.seeds)))


def test_the_push_endpoint_survives_damage() -> None:
    """Half a message is waited for, so there are fewer of these."""
    target = targets(Path("/nonexistent"))["push"]

    @given(damaged(target.seeds))
    def posted(data: bytes) -> None:
        target.one(data)

    posted()
