"""Streams into frames: text lines and KISS."""

from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation.decoders.decoder import MAX_FRAME_BYTES, Framer
from groundstation.decoders.framing import FEND, KissFramer, LineFramer

FRAMERS = [LineFramer, KissFramer]


def frames_of(framer: Framer, pieces: list[bytes]) -> list[bytes]:
    return [frame for piece in pieces for frame in framer.feed(piece)] + framer.flush()


def bytewise(data: bytes) -> list[bytes]:
    return [data[place : place + 1] for place in range(len(data))]


CASES = [
    pytest.param(LineFramer, b"one\ntwo\n", [b"one", b"two"], id="LF"),
    pytest.param(LineFramer, b"one\r\ntwo\r\n", [b"one", b"two"], id="CRLF"),
    pytest.param(LineFramer, b"one\rtwo\r", [b"one", b"two"], id="CR"),
    pytest.param(LineFramer, b"\n\r\n\rone\n\n", [b"one"], id="empty lines"),
    pytest.param(LineFramer, b"one\ntw", [b"one", b"tw"], id="no last line end"),
    pytest.param(LineFramer, b"", [], id="nothing"),
    # Chepponis and Karn 1987: C0 and DB inside a frame are sent as DB DC and DB DD.
    pytest.param(
        KissFramer,
        bytes.fromhex("c000 03f0 dbdc dbdd c0"),
        [bytes.fromhex("00 03f0 c0 db")],
        id="transparency",
    ),
    pytest.param(KissFramer, b"\xc0\xc0\xc0\x00a\xc0\xc0", [b"\x00a"], id="empty frames"),
    pytest.param(
        KissFramer, b"\xc0\x00a\xc0\x10b\xc0\x06c\xc0", [b"\x00a", b"\x10b", b"\x06c"], id="ports"
    ),
    pytest.param(KissFramer, b"ready\r\n\xc0\x00a\xc0", [b"\x00a"], id="text before the first"),
    pytest.param(KissFramer, b"\xc0\x00a\xdbxb\xc0", [b"\x00ab"], id="wrong escape"),
    pytest.param(KissFramer, b"\xc0\x00a\xdb\xc0\x00b\xc0", [b"\x00a", b"\x00b"], id="cut escape"),
    pytest.param(KissFramer, b"\xc0\x00a\xc0\x00b", [b"\x00a", b"\x00b"], id="no last FEND"),
    pytest.param(KissFramer, b"never any mark", [], id="no FEND"),
]


@pytest.mark.parametrize(("make", "stream", "frames"), CASES)
def test_whole_and_byte_by_byte(
    make: Callable[[], Framer], stream: bytes, frames: list[bytes]
) -> None:
    assert frames_of(make(), [stream]) == frames
    assert frames_of(make(), bytewise(stream)) == frames


@pytest.mark.parametrize(("make", "stream", "frames"), CASES)
def test_a_flushed_framer_begins_anew(
    make: Callable[[], Framer], stream: bytes, frames: list[bytes]
) -> None:
    framer = make()
    frames_of(framer, [stream])
    assert frames_of(framer, [stream]) == frames


def test_trailing_bytes_wait_for_their_end() -> None:
    lines, kiss = LineFramer(), KissFramer()
    assert lines.feed(b"one\ntw") == [b"one"]
    assert lines.feed(b"o\n") == [b"two"]
    assert kiss.feed(b"\xc0\x00a\xc0\x00b\xdb") == [b"\x00a"]
    assert kiss.feed(b"\xdc\xc0") == [b"\x00b\xc0"]


@pytest.mark.parametrize(("make", "mark"), [(LineFramer, b"\n"), (KissFramer, FEND)])
def test_a_frame_that_is_too_long_is_given_once_and_its_rest_dropped(
    make: Callable[[], Framer], mark: bytes
) -> None:
    framer = make()
    assert framer.feed(mark) == []
    heads = [frame for _ in range(40) for frame in framer.feed(b"x" * 1000)]
    assert heads == [b"x" * (MAX_FRAME_BYTES + 1)]
    assert framer.feed(b"more" + mark + b"next" + mark) == [b"next"]


def test_a_frame_of_just_the_limit_is_whole() -> None:
    assert LineFramer(limit=4).feed(b"1234\n12345\n") == [b"1234", b"12345"]
    assert LineFramer(limit=4).feed(b"123456\n12\n") == [b"12345", b"12"]


def test_a_stream_without_any_mark_says_so() -> None:
    assert KissFramer().feed(b"x" * 10_000) == [b"x" * (MAX_FRAME_BYTES + 1)]


@given(st.lists(st.binary(max_size=60)))
def test_kiss_gives_back_what_was_sent(packets: list[bytes]) -> None:
    stream = FEND + b"".join(
        packet.replace(b"\xdb", b"\xdb\xdd").replace(b"\xc0", b"\xdb\xdc") + FEND
        for packet in packets
    )
    assert frames_of(KissFramer(), [stream]) == [packet for packet in packets if packet]


@pytest.mark.parametrize("make", FRAMERS)
@given(stream=st.binary(max_size=400), cuts=st.lists(st.integers(0, 400), max_size=8))
def test_how_a_stream_is_cut_changes_nothing(
    make: Callable[..., Framer], stream: bytes, cuts: list[int]
) -> None:
    edges = [0, *sorted(cuts), len(stream)]
    pieces = [stream[a:b] for a, b in pairwise(edges)]
    whole = frames_of(make(limit=50), [stream])
    assert frames_of(make(limit=50), pieces) == whole
    assert frames_of(make(limit=50), bytewise(stream)) == whole
    assert all(0 < len(frame) <= 51 for frame in whole)
