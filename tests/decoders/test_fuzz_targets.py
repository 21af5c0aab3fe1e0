"""A few seconds of what ``python -m benchmarks.fuzz`` does for ten minutes each."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchmarks.fuzz_targets import targets

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
