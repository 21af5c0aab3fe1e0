"""Decoders with a good frame each, and noise to give them."""

import base64
import binascii
import random
import string
import struct
from itertools import pairwise

from groundstation.decoders.aprs.settings import AprsFraming, AprsSettings, CommentField
from groundstation.decoders.binary import BinaryEncoding, BinarySettings
from groundstation.decoders.build import DecoderSettings
from groundstation.decoders.byte_layout import PackedField
from groundstation.decoders.delimited import Checksum, DelimitedSettings
from groundstation.decoders.feeds import FeedForm, FeedSettings
from groundstation.decoders.forwarded import ForwardedSettings
from groundstation.decoders.json_map import JsonSettings
from groundstation.decoders.nmea import NmeaSettings
from groundstation.decoders.pairs import PairsSettings
from groundstation.decoders.pattern import PatternSettings
from groundstation.decoders.time_formats import TimeFormat

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
    "pairs": PairsSettings(
        fields={"lat": "lat", "lon": "lon", "alt_m": "alt", "time": "time"},
        separator=",",
        between="=",
        tracker="x",
    ),
    "form": PairsSettings(
        fields={"lat": "pos.0", "lon": "pos.1", "time": "time", "battery_v": "batt"},
        separator="&",
        between="=",
        time_format="%d/%m/%y %H:%M:%S",
        tracker="x",
    ),
    "binary": BinarySettings(
        layout=(
            PackedField(name="lat", type="i32", at=1, scale=1e-7),
            PackedField(name="lon", type="i32", at=5, scale=1e-7),
            PackedField(name="alt_m", type="u24", at=9),
            PackedField(name="battery_v", type="f32", at=12),
            PackedField(name="time", type="u32", at=16),
            PackedField(name="satellites", type="u8", at=20, bit=2, bits=5),
        ),
        start="AA",
        checksum="crc-16",
        tracker="x",
    ),
    "bytes as text": BinarySettings(
        layout=(
            PackedField(name="lat", type="f64", at=0),
            PackedField(name="lon", type="f32", at=8),
            PackedField(name="tracker", type="text", at=12, length=4),
            PackedField(name="time", type="bcd", at=16, length=3),
        ),
        encoding=BinaryEncoding.HEX,
        time_format="hms",
    ),
    "nmea": NmeaSettings(tracker="x", sentences=("GGA", "RMC"), checksum_required=False),
    "pattern": PatternSettings(
        pattern=r"(?P<lat>-?[0-9.]+), (?P<lon>-?[0-9.]+)(?: at (?P<time>\S+))?", tracker="x"
    ),
    "forwarded": ForwardedSettings(decoder=JsonSettings()),
    "kml": FeedSettings(form=FeedForm.KML),
    "gpx": FeedSettings(form=FeedForm.GPX),
    "geojson": FeedSettings(form=FeedForm.GEOJSON),
}
BINARY = (
    b"\xaa"
    + struct.pack(">ii", 471_000_000, 203_000_000)
    + b"\x00\x03\x84"
    + struct.pack(">fIB", 3.9, 1_778_922_000, 0x24)
)
GOOD: dict[str, list[bytes]] = {
    "aprs lines": [
        HEAD + b"/092345z4903.50N/07201.75WO088/036/A=001234 5.9V -3C !w5a!",
        HEAD + b"=/5L!!<*e7OS]Scomment",
        HEAD + b'`(_fn"Oj/"4T}',
        HEAD + b";LEADER   *092345z4903.50N/07201.75W>088/036",
        HEAD + b")AID #2!4903.50N/07201.75WA",
        b"[0.3] " + HEAD + b"!4903.50N/07201.75WO|!!!%|",
        HEAD + b"!4903.50N/07201.75W_220/004g005t077",
    ],
    "aprs frames": [
        AX25_HEAD + b"!4903.50N/07201.75WO088/036/A=001234 5.9V",
        AX25_HEAD + b'`(_fn"Oj/"4T}',
    ],
    "delimited": [b"2024-05-10T12:00:00Z,47.1,20.3,85,3.7"],
    "delimited with checksum": [b"$$Q0HAB-11,12:00:00,4706.00,2018.00,1000"],
    "json": [b'{"time": 1715342400, "lat": 47.1, "lon": 20.3, "alt_m": 85, "tracker": "a"}'],
    "pairs": [b"lat=47.1,lon=20.3,alt=900 ft,time=2026-05-16T09:00:00Z"],
    "form": [b"pos=47.1%2C20.3&time=16%2F05%2F26+09%3A00%3A00&batt=3900mV"],
    "binary": [BINARY + binascii.crc_hqx(BINARY, 0xFFFF).to_bytes(2, "big")],
    "bytes as text": [
        (struct.pack(">df", 47.1, 20.3) + b"Q0AB" + bytes.fromhex("090000")).hex().encode()
    ],
    "nmea": [
        b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47",
        b"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A",
    ],
    "pattern": [b"Hello 47.1, 20.3 at 2026-05-16T09:00:00Z"],
    "forwarded": [
        b'{"received": "2026-05-16T09:00:00Z", "data": "'
        + base64.b64encode(b'{"tracker": "a", "lat": 47.1, "lon": 20.3, "alt_m": 900}')
        + b'"}'
    ],
    "kml": [
        b'<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>a</name>'
        b"<TimeStamp><when>2026-05-16T09:00:00Z</when></TimeStamp><Point>"
        b"<coordinates>20.3,47.1,900</coordinates></Point></Placemark></Document></kml>"
    ],
    "gpx": [
        b'<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1"><wpt lat="47.1" lon="20.3">'
        b"<ele>900</ele><time>2026-05-16T09:00:00Z</time><name>a</name></wpt></gpx>"
    ],
    "geojson": [
        b'{"type":"Feature","geometry":{"type":"Point","coordinates":[20.3,47.1,900]},'
        b'"properties":{"name":"a","time":"2026-05-16T09:00:00Z"}}'
    ],
}
NOISE_BYTES = 64 * 1024


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


def pieces(kind: str, noise: str) -> tuple[list[bytes], list[bytes], list[bytes]]:
    """In one piece, in frames of 256 bytes, and in frames that begin well."""
    data = NOISES[noise]
    cut = [data[a:b] for a, b in pairwise(range(0, NOISE_BYTES + 1, 256))]
    head = GOOD[kind][0][:40]
    begun = [head + data[a:b] for a, b in pairwise(range(0, NOISE_BYTES + 1, 4096 - 64))]
    return [data], cut, begun
