"""The JSON others read: keys as in the design, numbers and times fixed to the byte."""

import itertools
import json
import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation import jsonout
from groundstation.flight.alert_records import Alert, AlertKey, HeardAgain, Message
from groundstation.records import AlertKind, Frame, Landing, Phase, PhaseChange, Reason
from groundstation.schema.landing import landing_json
from groundstation.schema.lines import alert_json, phase_json, rejected_json

SQUARE = ((47.0, 20.0), (47.0, 20.1), (47.1, 20.1), (47.1, 20.0), (47.0, 20.0))
LANDING = Landing(
    payload="kanalas-1",
    time_utc=1_782_000_000.0,
    evidence_utc=1_781_999_990.25,
    phase=Phase.DESCENT,
    latitude_deg=47.123_456_78,
    longitude_deg=20.987_654_32,
    ground_m=85.04,
    eta_utc=1_782_000_600.4567,
    eta_90_utc=(1_782_000_500.0, 1_782_000_720.0),
    descent_rate_ms=5.123,
    region_50=(SQUARE,),
    region_90=(SQUARE, SQUARE),
    radius_50_m=812.34,
    radius_90_m=2345.67,
    descent_rate_90_ms=(4.5, 5.75),
    basis="own ascent winds",
)


@pytest.mark.parametrize(
    ("time_utc", "text"),
    [
        # RFC 3339 section 5.8 and POSIX.1 "Seconds Since the Epoch"; 1e9 is widely published.
        (0.0, "1970-01-01T00:00:00Z"),
        (1_000_000_000.0, "2001-09-09T01:46:40Z"),
        (482_196_050.52, "1985-04-12T23:20:50.520Z"),
        (-0.0004, "1970-01-01T00:00:00Z"),
        (59.9996, "1970-01-01T00:01:00Z"),
        (-1.0, "1969-12-31T23:59:59Z"),
        (None, None),
        (math.nan, None),
        (math.inf, None),
        (1e15, None),
    ],
)
def test_times(time_utc: float | None, text: str | None) -> None:
    assert jsonout.iso_utc(time_utc) == text


def test_numbers_are_rounded_and_never_nan_or_minus_zero() -> None:
    assert jsonout.degrees(47.123_456_78) == 47.123457
    assert jsonout.metres(math.nan) is None
    assert jsonout.metres(-math.inf) is None
    assert jsonout.metres(None) is None
    assert str(jsonout.metres(-0.04)) == "0.0"


def test_landing_to_the_byte() -> None:
    ring = "[[20.0,47.0],[20.1,47.0],[20.1,47.1],[20.0,47.1],[20.0,47.0]]"
    assert jsonout.line(landing_json(LANDING)) == (
        '{"kind":"landing","time":"2026-06-21T00:00:00Z","payload":"kanalas-1","phase":"descent",'
        '"lat":47.123457,"lon":20.987654,"ground_m":85.0,"eta":"2026-06-21T00:10:00.457Z",'
        '"eta_90":["2026-06-21T00:08:20Z","2026-06-21T00:12:00Z"],"descent_rate_ms":5.12,'
        f'"region_50":{{"type":"Polygon","coordinates":[{ring}]}},'
        f'"region_90":{{"type":"MultiPolygon","coordinates":[[{ring}],[{ring}]]}},'
        '"basis":"own ascent winds","evidence":"2026-06-20T23:59:50.250Z",'
        '"radius_50_m":812.3,"radius_90_m":2345.7,"descent_rate_90_ms":[4.5,5.75],"chance":null,"height_m":null,"height_90_m":null,"burst_90":null}'
    )


def test_phase_alert_and_rejected_have_the_keys_of_the_design_first() -> None:
    change = PhaseChange(payload="k", time_utc=10.0, phase=Phase.ASCENT, since_utc=5.0)
    assert list(phase_json(change)) == ["kind", "time", "payload", "phase", "since"]
    key = AlertKey(payload="k", begun_utc=0, kind=AlertKind.HEARD_AGAIN, occasion="1")
    alert = Alert(key=key, time_utc=1.0, phase=Phase.ASCENT, facts=HeardAgain(silent_s=200.0))
    spoken = alert_json(Message(alert=alert, title="t", body="b"))
    assert list(spoken)[:7] == ["kind", "time", "payload", "alert", "key", "title", "body"]
    assert list(spoken)[7:] == ["landing", "moved_m", "bearing_deg", "instruction"]
    assert (spoken["landing"], spoken["moved_m"], spoken["instruction"]) == (None, None, "b")
    assert spoken["alert"] == "heard-again"
    assert spoken["key"] == "k/19700101T000000Z/heard-again/1"
    frame = Frame(source="mast", received_utc=7.0, data=b"Q0HAB-11>APRS:\xff\x00\\x")
    rejected = rejected_json(frame, Reason.NO_POSITION, "no position in it")
    assert list(rejected)[:4] == ["kind", "time", "reason", "frame"]
    assert rejected["frame"] == r"Q0HAB-11>APRS:\xff\x00\\x"
    assert rejected["time"] == "1970-01-01T00:00:07Z"


def frame_bytes(text: str) -> bytes:
    """The inverse of ``frame_text``."""
    return re.sub(
        rb"\\(?:\\|x([0-9a-f]{2}))",
        lambda match: b"\\" if match[1] is None else bytes.fromhex(match[1].decode()),
        text.encode("utf-8"),
    )


@given(st.binary(max_size=200))
def test_any_frame_comes_back_and_is_safe_to_print(data: bytes) -> None:
    text = jsonout.frame_text(data)
    assert frame_bytes(text) == data
    text.encode("utf-8")
    assert not any(ord(c) < 32 or 127 <= ord(c) < 160 for c in text)
    assert json.loads(jsonout.line({"frame": text}))["frame"] == text


def test_readable_text_stays_readable_and_writing_direction_is_not_turned() -> None:
    assert jsonout.frame_text("szél 12 °C".encode()) == "szél 12 °C"
    turned = jsonout.frame_text("a\u202eb".encode())
    assert turned == r"a\xe2\x80\xaeb"
    assert frame_bytes(turned) == "a\u202eb".encode()


def test_regions_follow_the_right_hand_rule_and_close() -> None:
    """RFC 7946 section 3.1.6: rings closed, exterior ring counter-clockwise."""
    positions = jsonout.region_json((SQUARE[:-1],))["coordinates"][0]
    assert positions[0] == positions[-1]
    area = sum(a[0] * b[1] - b[0] * a[1] for a, b in itertools.pairwise(positions))
    assert area > 0
    assert jsonout.region_json(()) == {"type": "MultiPolygon", "coordinates": []}


def test_a_region_across_the_antimeridian_stays_in_one_piece() -> None:
    ring = ((10.0, 179.9), (10.0, -179.9), (10.1, -179.9), (10.1, 179.9), (10.0, 179.9))
    positions = jsonout.region_json((ring,))["coordinates"][0]
    assert [p[0] for p in positions] == [179.9, 180.1, 180.1, 179.9, 179.9]


def test_not_a_number_never_leaves() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        jsonout.line({"x": math.nan})


def test_half_a_surrogate_pair_stays_valid_json() -> None:
    written = jsonout.line({"title": "\udcff"})
    written.encode("utf-8")
    assert json.loads(written) == {"title": "\udcff"}
