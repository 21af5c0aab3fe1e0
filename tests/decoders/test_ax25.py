"""AX.25 UI frames against a frame put together by hand from AX.25 v2.2 (TAPR 1997)."""

import pytest

from groundstation.decoders.aprs.decode import AprsDecoder
from groundstation.decoders.aprs.settings import AprsFraming, AprsSettings
from groundstation.decoders.aprs_packet import Packet
from groundstation.decoders.ax25 import read_frame, read_kiss
from groundstation.decoders.checksums import CRCS, crc
from groundstation.decoders.framing import KissFramer
from groundstation.records import Reason, Report, Unreadable

INFO = b"!4903.50N/07201.75WO/A=001234"
# APRS <- N0CALL-11 by WIDE2-1; the placeholder callsign of the AX.25 examples.
FRAME = (
    bytes.fromhex(
        "82a0a4a64040e0 9c608682989876 ae92888a644063 03f0"
        "21343930332e35304e2f30373230312e3735574f2f413d303031323334"
    )
)  # fmt: skip
FCS = 0xC491


def address(name: str, ssid: int, high_bit: bool = False, last: bool = False) -> bytes:
    """An address as AX.25 v2.2 section 3.12 lays it out."""
    octet = 0x60 | ssid << 1 | high_bit << 7 | last
    return bytes(ord(char) << 1 for char in name.ljust(6)) + bytes([octet])


def test_the_frame_has_the_sequence_it_was_sent_with() -> None:
    assert crc(FRAME, CRCS["crc-16-x25"]) == FCS


def test_the_frame_is_read() -> None:
    packet = read_frame(FRAME)
    assert packet == Packet(source="N0CALL-11", destination="APRS", path=("WIDE2-1",), info=INFO)


def test_the_hand_made_addresses_are_those_of_the_frame() -> None:
    head = (
        address("APRS", 0, high_bit=True) + address("N0CALL", 11) + address("WIDE2", 1, last=True)
    )
    assert head == FRAME[:21]


def test_the_star_marks_the_last_digipeater_that_repeated() -> None:
    head = (
        address("APRS", 0)
        + address("Q0HAB", 11)
        + address("Q0AAA", 1, high_bit=True)
        + address("WIDE1", 0, high_bit=True)
        + address("WIDE2", 1, last=True)
    )
    packet = read_frame(head + b"\x03\xf0" + INFO)
    assert isinstance(packet, Packet)
    assert packet.source == "Q0HAB-11"
    assert packet.path == ("Q0AAA-1", "WIDE1*", "WIDE2-1")


def test_from_the_stream_to_the_report() -> None:
    stream = b"\xc0\x50" + FRAME + b"\xc0"  # port 5
    (frame,) = KissFramer().feed(stream)
    (report,) = AprsDecoder(AprsSettings(framing=AprsFraming.AX25)).decode(frame, 0.0)
    assert isinstance(report, Report)
    assert report.tracker == "N0CALL-11"
    # APRS 1.0.1 p. 32: 1234 ft.
    assert report.altitude_m == pytest.approx(376.1232)


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"", Reason.UNREADABLE),
        (b"\x00", Reason.UNREADABLE),
        (b"\x06\x01\x02", Reason.UNREADABLE),
        (b"\xff", Reason.UNREADABLE),
        (b"\x00" + FRAME[:20], Reason.UNREADABLE),
        (b"\x00" + address("APRS", 0, last=True) + b"\x03\xf0", Reason.UNREADABLE),
        (b"\x00" + address("A", 0) * 10 + address("A", 0, last=True), Reason.UNREADABLE),
        (b"\x00" + address("a b", 0) + address("A", 0, last=True), Reason.UNREADABLE),
        (b"\x00" + FRAME[:21] + b"\x3f", Reason.NO_POSITION),
        (b"\x00" + FRAME[:21] + b"\x03\xcf" + INFO, Reason.NO_POSITION),
    ],
    ids=[
        "nothing",
        "command byte alone",
        "hardware command",
        "end of KISS",
        "cut in the addresses",
        "one address",
        "eleven addresses",
        "no callsign",
        "connection",
        "other protocol",
    ],
)
def test_other_frames_say_why_they_are_not_read(data: bytes, reason: Reason) -> None:
    found = read_kiss(data)
    assert isinstance(found, Unreadable)
    assert found.reason is reason
    assert found.detail.endswith(".")
