"""Whatever the bytes: records, never an exception, and soon."""

import json
import math
import random
import string
from itertools import pairwise
from time import process_time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation.decoders.aprs.settings import AprsFraming, AprsSettings, CommentField
from groundstation.decoders.build import DecoderSettings, build_decoder
from groundstation.decoders.checksums import nmea_xor
from groundstation.decoders.decoder import Decoder, Framer
from groundstation.decoders.delimited import Checksum, DelimitedSettings
from groundstation.decoders.framing import KissFramer, LineFramer
from groundstation.decoders.json_map import JsonSettings
from groundstation.decoders.nmea import NmeaSettings
from groundstation.decoders.time_formats import TimeFormat
from groundstation.records import Report, Unreadable

RECEIVED = 1_715_342_400.0
FIELDS = (
    CommentField(name="battery_v", pattern=r"([0-9.]+)V"),
    CommentField(name="temperature_c", pattern=r"(-?[0-9.]+)C"),
)
HEAD = b"Q0HAB-11>S32UVT,Q0AAA*,qAR,Q0AAB-10:"
AX25_HEAD = bytes.fromhex("00 a66664aaaca8e0 a26090828440f7 03f0")
SETTINGS: dict[str, DecoderSettings] = {
    "aprs lines": AprsSettings(comment_fields=FIELDS),
    "aprs frames": AprsSettings(framing=AprsFraming.AX25, comment_fields=FIELDS),
    "delimited": DelimitedSettings(
        columns=("time", "lat", "lon", "alt_m", "battery_v"), tracker="x"
    ),
    "delimited with checksum": DelimitedSettings(
        columns=("tracker", "time", "lat", "lon", "alt_m"),
        start="$$",
        checksum=Checksum.CRC16,
        checksum_required=False,
        time_format=TimeFormat.HMS,
        units={"lat": "ddmm", "lon": "ddmm", "alt_m": "ft"},
    ),
    "json": JsonSettings(time_format=TimeFormat.UNIX),
    "nmea": NmeaSettings(tracker="x", sentences=("GGA", "RMC"), checksum_required=False),
}
GOOD: dict[str, list[bytes]] = {
    "aprs lines": [
        HEAD + b"/092345z4903.50N/07201.75WO088/036/A=001234 5.9V -3C !w5a!",
        HEAD + b"=/5L!!<*e7OS]Scomment",
        HEAD + b'`(_fn"Oj/"4T}',
        HEAD + b";LEADER   *092345z4903.50N/07201.75W>088/036",
        HEAD + b")AID #2!4903.50N/07201.75WA",
    ],
    "aprs frames": [
        AX25_HEAD + b"!4903.50N/07201.75WO088/036/A=001234 5.9V",
        AX25_HEAD + b'`(_fn"Oj/"4T}',
    ],
    "delimited": [b"2024-05-10T12:00:00Z,47.1,20.3,85,3.7"],
    "delimited with checksum": [b"$$Q0HAB-11,12:00:00,4706.00,2018.00,1000"],
    "json": [b'{"time": 1715342400, "lat": 47.1, "lon": 20.3, "alt_m": 85, "tracker": "a"}'],
    "nmea": [
        b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47",
        b"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A",
    ],
}
NOISE_BYTES = 64 * 1024
NOISE_SECONDS = 0.5
"""The limit that the project sets itself for 64 KiB of noise through one decoder."""


def check(decoder: Decoder, data: bytes) -> tuple[Report | Unreadable, ...]:
    """Decode, and hold what every decoder promises."""
    records = decoder.decode(data, RECEIVED)
    assert records
    for record in records:
        if isinstance(record, Unreadable):
            assert record.detail[0].isupper()
            assert record.detail.endswith(".")
            record.detail.encode()
            continue
        assert isinstance(record, Report)
        assert abs(record.latitude_deg) <= 90.0
        assert abs(record.longitude_deg) <= 180.0
        assert record.uncertainty_m >= 0.0
        numbers = (record.altitude_m, record.time_utc, record.speed_ms, record.course_deg)
        assert all(math.isfinite(value) for value in numbers if value is not None)
        assert all(math.isfinite(value) for _, value in record.telemetry)
        assert 0.0 <= (record.course_deg or 0.0) < 360.0
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
    for pieces in ([stream], [bytes([byte]) for byte in stream], [stream + b"\x00trail"]):
        framer = LineFramer()
        frames = [frame for piece in pieces for frame in framer.feed(piece)]
        assert [decoder.decode(frame, RECEIVED) for frame in frames][1:] == whole


def test_kiss_frames_whole_byte_by_byte_and_with_more_after_them() -> None:
    decoder = build_decoder(SETTINGS["aprs frames"])
    good = GOOD["aprs frames"]
    stream = b"text\xc0\x01\x20\xc0" + b"".join(b"\xc0" + frame + b"\xc0" for frame in good)
    whole = [decoder.decode(frame, RECEIVED) for frame in good]
    for pieces in ([stream], [bytes([byte]) for byte in stream], [stream + b"\x00trail"]):
        framer = KissFramer()
        frames = [frame for piece in pieces for frame in framer.feed(piece)]
        assert [decoder.decode(frame, RECEIVED) for frame in frames][1:] == whole


def noises() -> dict[str, bytes]:
    """64 KiB each: random bytes, random text, and what might make a reader look again."""
    chance = random.Random(20240510)
    printable = string.printable.encode()
    noise = {
        "bytes": chance.randbytes(NOISE_BYTES),
        "text": bytes(chance.choice(printable) for _ in range(NOISE_BYTES)),
    }
    for unit in (b"!", b"!w", b"/A=", b"$", b"[", b'{"a":', b"\xc0", b"\xdb", b"\n", b"}Q0A>B:",
                 b"0", b",", b"*", b"Q0A>B:!", b" ", b"1V", b"\xff"):  # fmt: skip
        noise[repr(unit)] = (unit * NOISE_BYTES)[:NOISE_BYTES]
    return noise


NOISES = noises()


def best_of_three(work: "list[bytes]", decoder: Decoder) -> float:
    times = []
    for _ in range(3):
        begun = process_time()
        for frame in work:
            decoder.decode(frame, RECEIVED)
        times.append(process_time() - begun)
    return min(times)


@pytest.mark.parametrize("kind", SETTINGS)
@pytest.mark.parametrize("noise", NOISES)
def test_noise_is_decoded_in_time(kind: str, noise: str) -> None:
    """In one piece, in frames of 256 bytes, and in frames that begin well."""
    data = NOISES[noise]
    edges = range(0, NOISE_BYTES + 1, 256)
    cut = [data[a:b] for a, b in pairwise(edges)]
    head = GOOD[kind][0][:40]
    begun = [head + data[a:b] for a, b in pairwise(range(0, NOISE_BYTES + 1, 4096 - 64))]
    decoder = build_decoder(SETTINGS[kind])
    for work in ([data], cut, begun):
        for frame in work:
            check(decoder, frame)
        assert best_of_three(work, decoder) < NOISE_SECONDS


@pytest.mark.parametrize("make", [LineFramer, KissFramer])
@pytest.mark.parametrize("noise", NOISES)
def test_noise_is_framed_in_time(make: type[Framer], noise: str) -> None:
    data = NOISES[noise]
    for size in (1, 64, NOISE_BYTES):
        times = []
        for _ in range(3):
            framer = make()
            begun = process_time()
            for place in range(0, len(data), size):
                framer.feed(data[place : place + size])
            framer.flush()
            times.append(process_time() - begun)
        assert min(times) < NOISE_SECONDS
