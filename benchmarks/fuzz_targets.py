"""What strangers can send us, each with good examples and with what must hold whatever comes."""

import asyncio
import base64
import contextlib
import json
import math
import socket
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from groundstation.clock import SystemClock
from groundstation.config import load
from groundstation.decoders.aprs.settings import AprsFraming, AprsSettings, CommentField
from groundstation.decoders.binary import BinarySettings
from groundstation.decoders.build import DecoderSettings, build_decoder
from groundstation.decoders.byte_layout import Encoding, PackedField, PackedSettings
from groundstation.decoders.delimited import Checksum, DelimitedSettings
from groundstation.decoders.feeds import FeedForm, FeedSettings, network_links
from groundstation.decoders.forwarded import ForwardedSettings
from groundstation.decoders.framing import KissFramer, LineFramer
from groundstation.decoders.json_map import JsonSettings
from groundstation.decoders.nmea import NmeaSettings
from groundstation.decoders.pairs import PairsSettings
from groundstation.decoders.pattern import PatternSettings
from groundstation.decoders.time_formats import TimeFormat
from groundstation.errors import ConfigurationError
from groundstation.records import Frame, HeightReport, Read, Unreadable
from groundstation.sources.health import HealthRecorder
from groundstation.sources.http_push import HttpPushSettings, HttpPushSource
from groundstation.sources.mail_body import MOST_BYTES, attachments, is_mail, read_mail
from groundstation.store.fix_rows import report_row, row_report

RECEIVED: Final = 1_778_922_000.0
ANSWER_S: Final = 5.0
HALF_A_MESSAGE_S: Final = 0.05
EVERY_GOOD: Final = 100
"""After so many strange posts a good one must still be taken."""

AX25: Final = bytes.fromhex("00a66664aaaca8e0a26090828440f703f0")


@dataclass(frozen=True, slots=True)
class Target:
    """``one`` takes any bytes, and raises where something does not hold that must. ``decoders`` are
    the settings of those that it tries."""

    one: Callable[[bytes], None]
    seeds: tuple[bytes, ...]
    decoders: tuple[DecoderSettings, ...] = ()


def _decoder(settings: DecoderSettings, *seeds: bytes) -> Target:
    decoder = build_decoder(settings)

    def one(data: bytes) -> None:
        hold(decoder.decode(data, RECEIVED))

    return Target(one, seeds, (settings,))


def hold(records: tuple[Read, ...]) -> None:
    """What every decoder promises; and the store keeps it and gives it back."""
    assert records
    for number, record in enumerate(records[:50]):
        kept = row_report(report_row(number, number, record))
        if isinstance(record, Unreadable):
            assert record.detail
            assert isinstance(kept, Unreadable)
            continue
        assert kept == record
        assert record.tracker
        numbers = [record.altitude_m, record.time_utc]
        if isinstance(record, HeightReport):
            numbers.append(record.pressure_pa)
        else:
            assert abs(record.latitude_deg) <= 90.0
            assert abs(record.longitude_deg) <= 180.0
            assert record.uncertainty_m >= 0.0
            numbers += [record.speed_ms, record.course_deg]
        assert all(math.isfinite(value) for value in numbers if value is not None)
        assert all(math.isfinite(value) for _, value in record.telemetry)


MAIL_SEEDS: Final = (
    b"From: a@example.net\r\nDate: Sat, 16 May 2026 10:59:30 +0200\r\n\r\nLat 47.1 Lon 20.3\r\n",
    b"From: a@example.net\r\nMIME-Version: 1.0\r\nContent-Type: multipart/mixed; boundary=B\r\n"
    b"\r\n--B\r\nContent-Type: text/html; charset=utf-8\r\n\r\n<p>47.1</p>\r\n--B\r\n"
    b"Content-Type: application/x; name=a.sbd\r\nContent-Transfer-Encoding: base64\r\n"
    b"Content-Disposition: attachment; filename=a.sbd\r\n\r\nAP8B\r\n--B--\r\n",
)


def mails(data: bytes) -> None:
    """Whatever a mail holds, there is something to read, of bounded length."""
    is_mail(data)
    for pattern in ("", "*.sbd"):
        read = read_mail(data, pattern)
        assert len(read.data) <= MOST_BYTES
        assert read.sent_utc is None or math.isfinite(read.sent_utc)
        read.sender.encode("utf-8", "replace")
    attachments(data)


MAPS: Final = (
    JsonSettings(),
    JsonSettings(
        fields={"lat": "a.b", "lon": "a.c", "alt_m": "h", "time": "t", "tracker": "id"},
        records="items",
        units={"alt_m": "ft", "lat": "ddmm", "lon": "ddmm"},
        time_format=TimeFormat.UNIX_MS,
    ),
    JsonSettings(
        tracker="x",
        time_format=TimeFormat.HMS,
        packed=PackedSettings(
            path="p.d",
            layout=(
                PackedField(name="lat", type="i32", at=0, scale=1e-7),
                PackedField(name="lon", type="f64", at=4),
                PackedField(name="alt_m", type="u16", at=12, missing=65535),
                PackedField(name="time", type="f32", at=14),
            ),
        ),
    ),
    JsonSettings(
        tracker="x",
        packed=PackedSettings(
            path="d",
            encoding=Encoding.HEX,
            layout=(
                PackedField(name="lat", type="i8", at=0),
                PackedField(name="lon", type="i8", at=1),
            ),
        ),
    ),
)
_MAPPED: Final = tuple(build_decoder(settings) for settings in MAPS)


def field_maps(data: bytes) -> None:
    """The first byte chooses the map, the rest is the message."""
    if data:
        hold(_MAPPED[data[0] % len(_MAPPED)].decode(data[1:], RECEIVED))


def framers(data: bytes) -> None:
    """Cut anywhere, a stream gives the same frames, and keeps no more than one."""
    for make in (lambda: LineFramer(64), lambda: KissFramer(64)):
        whole, pieces = make(), make()
        frames = whole.feed(data)
        cut = [frame for at in range(0, len(data), 7) for frame in pieces.feed(data[at : at + 7])]
        assert frames == cut
        assert all(0 < len(frame) <= 65 for frame in frames)


def links(data: bytes) -> None:
    assert all(isinstance(link, str) for link in network_links(data))


class Configuration:
    """A station's configuration from any text: settings, or an error that says where."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / "station.toml"

    def __call__(self, data: bytes) -> None:
        self._path.write_bytes(data)
        with contextlib.suppress(ConfigurationError):
            load(self._path, {})


@dataclass
class PushEndpoint:
    """The webhook on a real socket: it answers or hangs up, and goes on taking good messages."""

    posts: int = 0
    port: int = 0
    _ready: threading.Event = field(default_factory=threading.Event)

    def start(self) -> None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        threading.Thread(target=lambda: asyncio.run(self._serve()), daemon=True).start()
        assert self._ready.wait(20.0)

    async def _serve(self) -> None:
        async def keep(frame: Frame, stored: Callable[[], None] | None = None) -> None:
            self.posts += len(frame.data) > 0
            if stored is not None:
                stored()

        clock = SystemClock()
        settings = HttpPushSettings(
            name="hook", decoder=JsonSettings(), port=self.port, most_a_minute=10**9
        )
        health = HealthRecorder("hook", "http-push", clock)
        running = asyncio.create_task(HttpPushSource(settings, clock).run(keep, health))
        while not health.is_open:  # noqa: ASYNC110
            await asyncio.sleep(0.01)
        self._ready.set()
        await running

    def __call__(self, data: bytes) -> None:
        if not self.port:
            self.start()
        self._exchange(data, HALF_A_MESSAGE_S)
        self.posts += 1
        if self.posts % EVERY_GOOD == 0:
            assert b" 200 " in self._exchange(PUSH_SEEDS[0], ANSWER_S).split(b"\r\n")[0]

    def _exchange(self, data: bytes, wait_s: float) -> bytes:
        with socket.create_connection(("127.0.0.1", self.port), timeout=wait_s) as line:
            answer = b""
            try:
                line.sendall(data)
                while piece := line.recv(65536):
                    answer += piece
            except (ConnectionError, TimeoutError):
                pass
        assert not answer or answer.startswith(b"HTTP/"), answer[:100]
        assert b" 500 " not in answer.split(b"\r\n")[0], answer[:300]
        return answer


def _post(body: bytes, kind: str = "application/json", more: str = "") -> bytes:
    head = f"POST / HTTP/1.1\r\nHost: x\r\nContent-Type: {kind}\r\n{more}Connection: close\r\n"
    return f"{head}Content-Length: {len(body)}\r\n\r\n".encode() + body


GOOD_JSON: Final = b'{"tracker": "a", "lat": 47.1, "lon": 20.3, "alt_m": 900, "time": "%s"}' % (
    b"2026-05-16T09:00:00Z"
)
PUSH_SEEDS: Final = (
    _post(GOOD_JSON),
    _post(b"tracker=a&lat=47.1&lon=20.3&alt_m=900", "application/x-www-form-urlencoded"),
    b"POST / HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\n5\r\nhello\r\n0\r\n\r\n",
    _post(b"{}", more="Expect: 100-continue\r\nAuthorization: Bearer x\r\n"),
    b"GET /?token=%00 HTTP/1.0\r\n\r\n",
)
KML: Final = (
    b'<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>a</name><TimeStamp>'
    b"<when>2026-05-16T09:00:00Z</when></TimeStamp><Point><coordinates>20.3,47.1,900</coordinates>"
    b"</Point></Placemark><NetworkLink><Link><href>more.kml</href></Link></NetworkLink></Document>"
    b"</kml>"
)
TRACK: Final = (
    b'<kml xmlns:gx="http://www.google.com/kml/ext/2.2"><Placemark><name>a</name><gx:Track>'
    b"<when>2026-05-16T09:00:00Z</when><gx:coord>20.3 47.1 900</gx:coord></gx:Track></Placemark>"
    b"</kml>"
)
GPX: Final = (
    b'<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1"><wpt lat="47.1" lon="20.3"><ele>'
    b'9</ele><name>a</name></wpt><trk><name>a</name><trkseg><trkpt lat="47.1" lon="20.3"><time>'
    b"2026-05-16T09:00:00Z</time></trkpt></trkseg></trk></gpx>"
)
GEOJSON: Final = (
    b'{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"Point",'
    b'"coordinates":[20.3,47.1,900]},"properties":{"name":"a","time":"2026-05-16T09:00:00Z"}}]}'
)
CONFIGURATION: Final = (
    b'[station]\nname = "b"\ndata_dir = "data"\n[[payload]]\nname = "a"\n[[payload.tracker]]\n'
    b'id = "Q0HAB-11"\n[[source]]\nname = "x"\nkind = "mqtt"\nhost = "h"\ntopics = ["t"]\n'
    b'[source.decoder]\nkind = "json"\nfields = { lat = "a.b" }\nunits = { alt_m = "ft" }\n'
)
NMEA: Final = b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47"


def targets(folder: Path) -> dict[str, Target]:
    """All of them by name; ``folder`` is for what has to stand in a file."""
    forwarded = json.dumps(
        {"received": "2026-05-16T09:00:00Z", "data": base64.b64encode(GOOD_JSON).decode()}
    ).encode()
    return {
        "aprs": _decoder(
            AprsSettings(
                comment_fields=(CommentField(name="battery_v", pattern=r" ([0-9.]{1,6})V"),)
            ),
            b"Q0HAB-11>APZ001,Q0AAA*:/092345z4903.50N/07201.75WO088/036/A=001234 5.9V !w5a!",
            b"Q0HAB-11>APZ001:=/5L!!<*e7OS]Scomment",
            b'Q0HAB-11>S32UVT:`(_fn"Oj/"4T}',
            b"Q0HAB-11>APZ001:;LEADER   *092345z4903.50N/07201.75W>088/036",
            b"Q0HAB-11>APZ001:}Q0AAA>APZ001:!4903.50N/07201.75WA",
        ),
        "ax25": _decoder(
            AprsSettings(framing=AprsFraming.AX25),
            AX25 + b"!4903.50N/07201.75WO088/036/A=001234",
            AX25 + b'`(_fn"Oj/"4T}',
        ),
        "framers": Target(framers, (b"one\r\ntwo\n", b"\xc0\x00a\xdb\xdcb\xc0")),
        "delimited": _decoder(
            DelimitedSettings(
                columns=("tracker", "time", "lat", "lon", "alt_m"),
                start="$$",
                checksum=Checksum.CRC16,
                checksum_required=False,
                time_format=TimeFormat.HMS,
                units={"lat": "ddmm", "lon": "ddmm", "alt_m": "ft"},
            ),
            b"$$Q0HAB-11,12:00:00,4706.00,2018.00,1000",
        ),
        "nmea": _decoder(
            NmeaSettings(tracker="x", sentences=("GGA", "RMC"), checksum_required=False),
            NMEA,
            b"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A",
        ),
        "pattern": _decoder(
            PatternSettings(
                pattern=r"(?P<lat>-?[0-9.]+), (?P<lon>-?[0-9.]+)(?: at (?P<time>\S+))?",
                tracker="x",
            ),
            b"Hello 47.1, 20.3 at 2026-05-16T09:00:00Z",
        ),
        "pairs": _decoder(
            PairsSettings(
                fields={"lat": "pos.0", "lon": "pos.1", "alt_m": "alt", "time": "time"},
                separator="&",
                between="=",
                time_format="%d/%m/%y %H:%M:%S",
                tracker="x",
            ),
            b"pos=47.1%2C20.3&alt=900 ft&time=16%2F05%2F26+09%3A00%3A00",
        ),
        "binary": _decoder(
            BinarySettings(
                layout=(
                    PackedField(name="lat", type="i32", at=1, scale=1e-7),
                    PackedField(name="lon", type="f32", at=5),
                    PackedField(name="alt_m", type="u24", at=9),
                    PackedField(name="satellites", type="u8", at=12, bit=2, bits=5),
                    PackedField(name="time", type="bcd", at=13, length=3),
                    PackedField(name="comment", type="text", at=16, length=4),
                ),
                start="AA",
                time_format="hms",
                tracker="x",
            ),
            b"\xaa" + bytes.fromhex("1c12f5c0 41a26666 000384 24 090000 51304142"),
        ),
        "mail": Target(mails, MAIL_SEEDS),
        "forwarded": _decoder(ForwardedSettings(decoder=JsonSettings()), forwarded),
        "kml": _decoder(FeedSettings(form=FeedForm.KML), KML, TRACK),
        "gpx": _decoder(FeedSettings(form=FeedForm.GPX), GPX),
        "geojson": _decoder(FeedSettings(form=FeedForm.GEOJSON), GEOJSON),
        "links": Target(links, (KML,)),
        "field-maps": Target(
            field_maps,
            (
                b"\x00" + GOOD_JSON,
                b'\x01{"items":[{"a":{"b":4706.0,"c":"2018"},"h":9,"t":1778922000000,"id":"q"}]}',
                b'\x02{"p":{"d":"' + base64.b64encode(bytes(18)) + b'"}}',
                b'\x03{"d":"2f14"}',
            ),
            MAPS,
        ),
        "configuration": Target(Configuration(folder), (CONFIGURATION,)),
        "push": Target(PushEndpoint(), PUSH_SEEDS),
    }
