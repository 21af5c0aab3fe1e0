"""Each written form read back by the decoder of its kind: the same fixes, to the last digit."""

import json

import aprslib
import pytest

from groundstation.decoders.aprs.decode import AprsDecoder
from groundstation.decoders.aprs.settings import AprsFraming, AprsSettings, CommentField
from groundstation.decoders.delimited import Checksum, DelimitedDecoder, DelimitedSettings
from groundstation.decoders.framing import KissFramer
from groundstation.decoders.json_map import JsonDecoder, JsonSettings
from groundstation.decoders.nmea import NmeaDecoder, NmeaSettings
from groundstation.physics.geodesy import distance_m
from groundstation.records import Report
from groundstation.simulation.forms.aprs import frame, information
from groundstation.simulation.forms.form import INVENTED, Form
from groundstation.simulation.forms.tables import DELIMITED_COLUMNS, TRACK_COLUMNS
from groundstation.simulation.forms.write import write, write_truth
from groundstation.simulation.profiles import Profile, settings_of
from groundstation.simulation.simulate import simulate
from groundstation.simulation.tracker import Sent
from groundstation.units import FOOT_M, KNOT_MS

FLIGHT = simulate(settings_of(Profile.HARD, 48))
COPIES = [copy.sent for copy in FLIGHT.heard]
COMMENT = (
    CommentField(name="battery_v", pattern=r" ([0-9.]+)V"),
    CommentField(name="temperature_c", pattern=r" (-?[0-9.]+)C"),
    CommentField(name="satellites", pattern=r" ([0-9]+)S"),
)


def body(form: Form) -> list[bytes]:
    return [line for line in write(FLIGHT, form).splitlines() if not line.startswith(b"#")]


def check(report: object, sent: Sent, metres: float, up_m: float) -> None:
    assert isinstance(report, Report)
    assert report.tracker == "Q0HAB-11"
    assert report.time_utc == sent.time_utc
    aside = distance_m(
        report.latitude_deg, report.longitude_deg, sent.latitude_deg, sent.longitude_deg
    )
    assert aside <= metres
    assert report.altitude_m == pytest.approx(sent.altitude_m, abs=up_m)


def test_raw_packets() -> None:
    decoder = AprsDecoder(AprsSettings(comment_fields=COMMENT))
    reports = []
    for line in body(Form.PACKETS):
        received, _, packet = line.partition(b"\t")
        reports += [r for r in decoder.decode(packet, float(received)) if isinstance(r, Report)]
    assert len(reports) == len(COPIES)
    for report, sent in zip(reports, COPIES, strict=True):
        # 0.01 minute in 91 parts, half of one: 0.1 m north and 0.07 m east; one whole part allowed
        check(report, sent, 0.3, FOOT_M / 2 + 1e-6)
        assert report.satellites == sent.satellites
        assert dict(report.telemetry)["battery_v"] == pytest.approx(sent.battery_v, abs=0.0051)
        assert dict(report.telemetry)["temperature_c"] == pytest.approx(
            sent.temperature_c, abs=0.051
        )
        if sent.speed_ms > KNOT_MS:
            assert report.speed_ms == pytest.approx(sent.speed_ms, abs=KNOT_MS / 2 + 1e-6)


def test_raw_packets_by_an_independent_parser() -> None:
    """aprslib reads the same places, precision extension included."""
    checked = 0
    for copy in FLIGHT.heard[::7]:
        line = f"Q0HAB-11>APZKAN,WIDE2-1,qAR,{copy.receiver}:"
        found = aprslib.parse(line.encode() + information(copy.sent))
        aside = distance_m(
            found["latitude"], found["longitude"], copy.sent.latitude_deg, copy.sent.longitude_deg
        )
        assert aside < 0.5
        assert found["altitude"] == pytest.approx(copy.sent.altitude_m, abs=0.2)
        checked += 1
    assert checked > 80


def test_packets_hold_noise_that_is_no_fix() -> None:
    decoder = AprsDecoder(AprsSettings())
    lines = body(Form.PACKETS)
    read = [decoder.decode(line.partition(b"\t")[2], 1.78e9)[0] for line in lines]
    others = [line for line, r in zip(lines, read, strict=True) if not isinstance(r, Report)]
    assert any(b":>" in line for line in others)
    assert any(max(line) >= 0x80 for line in others)
    assert 0.02 < len(others) / len(lines) < 0.2


def test_kiss() -> None:
    framer = KissFramer()
    frames = framer.feed(write(FLIGHT, Form.KISS)) + framer.flush()
    decoder = AprsDecoder(AprsSettings(framing=AprsFraming.AX25))
    assert len(frames) == len(COPIES)
    for data, copy in zip(frames, FLIGHT.heard, strict=True):
        (report,) = decoder.decode(data, copy.received_utc)
        check(report, copy.sent, 0.3, FOOT_M / 2 + 1e-6)


def test_kiss_addresses_byte_by_byte() -> None:
    """AX.25 2.2 section 3.12: characters shifted left, SSID octets, a bit on the last address."""
    copy = next(c for c in FLIGHT.heard if not c.via)
    data = frame(FLIGHT, copy)
    head = bytes.fromhex("c000 82a0b4968 29ce0 a2609082844076 ae92888a644063 03f0".replace(" ", ""))
    assert data.startswith(head)
    assert data.endswith(b"!\xc0")


def test_json_lines() -> None:
    fields = {n: n for n in ("time", "lat", "lon", "alt_m", "tracker", "battery_v", "speed_ms")}
    decoder = JsonDecoder(JsonSettings(fields=fields))
    lines = body(Form.JSON)
    assert len(lines) == len(COPIES)
    for line, sent in zip(lines, COPIES, strict=True):
        (report,) = decoder.decode(line, sent.time_utc)
        check(report, sent, 0.12, 0.051)
        assert b'"invented":true' in line


def test_delimited_text() -> None:
    settings = DelimitedSettings(columns=DELIMITED_COLUMNS, checksum=Checksum.CRC16)
    decoder = DelimitedDecoder(settings)
    lines = body(Form.DELIMITED)
    assert len(lines) == len(COPIES)
    for line, sent in zip(lines, COPIES, strict=True):
        (report,) = decoder.decode(line, sent.time_utc)
        check(report, sent, 1.2, 0.51)
        assert report.satellites == sent.satellites  # type: ignore[union-attr]


def test_track_table() -> None:
    names, *rows = body(Form.TRACK)
    assert tuple(names.decode().split(",")) == TRACK_COLUMNS
    decoder = DelimitedDecoder(DelimitedSettings(columns=TRACK_COLUMNS))
    assert len(rows) == len(FLIGHT.fixes)
    for row, sent in zip(rows, FLIGHT.fixes, strict=True):
        (report,) = decoder.decode(row, sent.time_utc)
        check(report, sent, 0.12, 0.051)


def test_nmea_log() -> None:
    lines = body(Form.NMEA)
    assert len(lines) == 2 * len(FLIGHT.fixes)
    gga = NmeaDecoder(NmeaSettings(tracker="Q0HAB-11"))
    rmc = NmeaDecoder(NmeaSettings(tracker="Q0HAB-11", sentences=("RMC",)))
    for first, second, sent in zip(lines[::2], lines[1::2], FLIGHT.fixes, strict=True):
        (report,) = gga.decode(first, sent.time_utc)
        check(report, sent, 0.03, 0.051)
        (motion,) = rmc.decode(second, sent.time_utc)
        assert isinstance(motion, Report)
        # RMC has its own date: right even where reception is unknown to within years
        assert motion.time_utc == sent.time_utc
        assert motion.speed_ms == pytest.approx(sent.speed_ms, abs=0.05 * KNOT_MS + 1e-6)


@pytest.mark.parametrize("form", [Form.TRACK, Form.PACKETS, Form.NMEA, Form.DELIMITED])
def test_header_says_that_it_is_invented(form: Form) -> None:
    text = write(FLIGHT, form, ("one\ntwo",)).decode("utf-8", "replace")
    assert text.startswith(f"# one two\n# {INVENTED}\n")


def test_truth_is_readable_json() -> None:
    truth = json.loads(write_truth(FLIGHT))
    assert truth["invented"] is True
    assert truth["launch"] == "2026-05-16T08:30:00Z"
    assert truth["fixes_heard"] == len(FLIGHT.fixes)
    assert truth["lat"] == pytest.approx(FLIGHT.truth.landing[0], abs=1e-6)
