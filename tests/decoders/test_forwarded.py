"""Frames passed on by another station."""

import base64
import json

from hypothesis import given
from hypothesis import strategies as st

from groundstation.decoders.aprs.settings import AprsSettings
from groundstation.decoders.build import build_decoder
from groundstation.decoders.forwarded import ForwardedSettings
from groundstation.records import Report, Unreadable

PACKET = b"Q0HAB-11>APZKAN:/090000h4706.00N/02018.00EO/A=000279"
DECODER = build_decoder(ForwardedSettings(decoder=AprsSettings()))


def passed_on(data: bytes, received: str = "2026-05-16T09:00:05Z") -> bytes:
    told = {"kind": "frame", "received": received, "data": base64.b64encode(data).decode()}
    return json.dumps(told).encode()


def test_times_of_day_belong_to_the_first_reception() -> None:
    """A frame that waited in a broker for two days keeps its day."""
    (found,) = DECODER.decode(passed_on(PACKET), 1_778_922_000.0 + 2 * 86_400.0)
    assert isinstance(found, Report)
    assert found.time_utc == 1_778_922_000.0


@given(st.binary(max_size=200))
def test_any_bytes_give_a_record(data: bytes) -> None:
    assert len(DECODER.decode(data, 1.7e9)) == 1
    assert len(DECODER.decode(passed_on(data), 1.7e9)) == 1
    (found,) = DECODER.decode(b'{"data": 3, "received": []}', 1.7e9)
    assert isinstance(found, Unreadable)


def test_what_gives_no_time_was_heard_there_and_then() -> None:
    plain = b"Q0HAB-11>APZKAN:!4706.00N/02018.00EO"
    (found,) = DECODER.decode(passed_on(plain), 1_778_922_000.0 + 7200.0)
    assert isinstance(found, Report)
    assert found.time_utc == 1_778_922_005.0


def test_what_the_first_carrier_said_goes_with_it() -> None:
    told = json.loads(passed_on(b"Q0HAB-11>APZKAN:!4706.00N/02018.00EO"))
    mailed = json.dumps(told | {"sent": "2026-05-16T08:00:00Z", "sender": "Q0HAB-13"}).encode()
    (found,) = DECODER.decode(mailed, 1_778_922_100.0)
    assert isinstance(found, Report)
    assert (found.tracker, found.time_utc) == ("Q0HAB-13", 1_778_918_400.0)
    (kept,) = DECODER.decode(json.dumps(told | {"retained": True}).encode(), 1_778_922_100.0)
    assert isinstance(kept, Report)
    assert kept.time_utc is None
    assert kept.time_unread
