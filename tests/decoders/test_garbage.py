"""Whatever the bytes: records, never an exception, and soon."""

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation.decoders.build import build_decoder
from groundstation.decoders.checksums import nmea_xor
from groundstation.decoders.decoder import Decoder, Framer
from groundstation.decoders.framing import KissFramer, LineFramer
from groundstation.records import Read, Report, Unreadable
from tests.support.noise import (
    AX25_HEAD,
    GOOD,
    HEAD,
    NOISE_BYTES,
    NOISES,
    SETTINGS,
    pieces,
)

RECEIVED = 1_715_342_400.0


def check(decoder: Decoder, data: bytes) -> tuple[Read, ...]:
    """Decode, and hold what every decoder promises."""
    records = decoder.decode(data, RECEIVED)
    assert records
    for record in records:
        if isinstance(record, Unreadable):
            assert record.detail[0].isupper()
            assert record.detail.endswith(".")
            record.detail.encode()
            continue
        numbers = [record.altitude_m, record.time_utc]
        if isinstance(record, Report):
            assert abs(record.latitude_deg) <= 90.0
            assert abs(record.longitude_deg) <= 180.0
            assert record.uncertainty_m >= 0.0
            assert 0.0 <= (record.course_deg or 0.0) < 360.0
            numbers += [record.speed_ms, record.course_deg]
        else:
            numbers.append(record.pressure_pa)
            assert numbers[0] is not None or numbers[-1] is not None
        assert all(math.isfinite(value) for value in numbers if value is not None)
        assert all(math.isfinite(value) for _, value in record.telemetry)
        assert record.tracker
        for text in (record.tracker, record.comment, *record.path):
            text.encode()
            assert text == "" or text.isprintable()
    return records


EXAMPLES = [pytest.param(kind, data, id=kind) for kind, lines in GOOD.items() for data in lines]


@pytest.mark.parametrize(("kind", "data"), EXAMPLES)
def test_the_examples_are_good(kind: str, data: bytes) -> None:
    (record,) = check(build_decoder(SETTINGS[kind]), data)
    assert isinstance(record, Report), record


@pytest.mark.parametrize("kind", SETTINGS)
@given(data=st.binary(max_size=300))
def test_any_bytes(kind: str, data: bytes) -> None:
    check(build_decoder(SETTINGS[kind]), data)


@pytest.mark.parametrize("kind", SETTINGS)
@given(data=st.data())
def test_a_good_frame_with_damage(kind: str, data: st.DataObject) -> None:
    frame = bytearray(data.draw(st.sampled_from(GOOD[kind])))
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, max(len(frame) - 1, 0)))
        match data.draw(st.sampled_from(["change", "insert", "cut", "double", "blank"])):
            case "change":
                frame[place : place + 1] = data.draw(st.binary(min_size=1, max_size=1))
            case "insert":
                frame[place:place] = data.draw(st.binary(min_size=1, max_size=5))
            case "cut":
                del frame[place : place + data.draw(st.integers(1, 12))]
            case "double":
                frame += frame[place:]
            case _:
                frame[place : place + 1] = b" "
    check(build_decoder(SETTINGS[kind]), bytes(frame))


@given(info=st.binary(max_size=120))
@pytest.mark.parametrize(
    "first", [b"!", b"=", b"/092345z", b"@092345h", b"`", b"'", b";A23456789*"]
)
def test_any_information_field(first: bytes, info: bytes) -> None:
    check(build_decoder(SETTINGS["aprs lines"]), HEAD + first + info)
    check(build_decoder(SETTINGS["aprs frames"]), AX25_HEAD + first + info)


@given(text=st.text(max_size=60), other=st.text("0123456789.,+-NSEWAVM", max_size=60))
def test_any_fields_of_a_sentence(text: str, other: str) -> None:
    decoder = build_decoder(SETTINGS["nmea"])
    for body in (text, other):
        for name in ("GPGGA", "GPRMC"):
            whole = f"{name},{body}".encode()
            check(decoder, b"$" + whole + f"*{nmea_xor(whole):02X}".encode())


JSON_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(
            st.sampled_from(["time", "lat", "lon", "alt_m", "tracker"]) | st.text(max_size=3),
            inner,
            max_size=6,
        )
    ),
)


@given(value=JSON_VALUES)
def test_any_json(value: object) -> None:

    check(build_decoder(SETTINGS["json"]), json.dumps(value).encode())


@pytest.mark.parametrize("kind", SETTINGS)
def test_an_unwanted_record_first_changes_nothing_after_it(kind: str) -> None:
    decoder = build_decoder(SETTINGS[kind])
    for frame in GOOD[kind]:
        alone = build_decoder(SETTINGS[kind]).decode(frame, RECEIVED)
        check(decoder, b"# something else")
        check(decoder, bytes(range(256)))
        assert decoder.decode(frame, RECEIVED) == alone


@pytest.mark.parametrize("kind", ["aprs lines", "delimited", "json", "nmea"])
def test_lines_whole_byte_by_byte_and_with_more_after_them(kind: str) -> None:
    decoder = build_decoder(SETTINGS[kind])
    stream = b"# something else\r\n" + b"".join(line + b"\r\n" for line in GOOD[kind])
    whole = [decoder.decode(line, RECEIVED) for line in GOOD[kind]]
    for parts in ([stream], [bytes([byte]) for byte in stream], [stream + b"\x00trail"]):
        framer = LineFramer()
        frames = [frame for piece in parts for frame in framer.feed(piece)]
        assert [decoder.decode(frame, RECEIVED) for frame in frames][1:] == whole


def test_kiss_frames_whole_byte_by_byte_and_with_more_after_them() -> None:
    decoder = build_decoder(SETTINGS["aprs frames"])
    good = GOOD["aprs frames"]
    stream = b"text\xc0\x01\x20\xc0" + b"".join(b"\xc0" + frame + b"\xc0" for frame in good)
    whole = [decoder.decode(frame, RECEIVED) for frame in good]
    for parts in ([stream], [bytes([byte]) for byte in stream], [stream + b"\x00trail"]):
        framer = KissFramer()
        frames = [frame for piece in parts for frame in framer.feed(piece)]
        assert [decoder.decode(frame, RECEIVED) for frame in frames][1:] == whole


@pytest.mark.parametrize("kind", SETTINGS)
@pytest.mark.parametrize("noise", NOISES)
def test_noise_is_decoded(kind: str, noise: str) -> None:
    """How soon is a benchmark's (``benchmarks/noise.py``)."""
    decoder = build_decoder(SETTINGS[kind])
    for work in pieces(kind, noise):
        for frame in work:
            check(decoder, frame)


@pytest.mark.parametrize("make", [LineFramer, KissFramer])
@pytest.mark.parametrize("noise", NOISES)
def test_noise_is_framed(make: type[Framer], noise: str) -> None:
    """The same frames, however it is cut, and none too long."""
    data = NOISES[noise]
    found = []
    for size in (1, 64, NOISE_BYTES):
        framer = make()
        frames = [
            frame
            for place in range(0, len(data), size)
            for frame in framer.feed(data[place : place + size])
        ]
        found.append([*frames, *framer.flush()])
    assert found[0] == found[1] == found[2]
