"""The monitor form, as terminal node controllers and APRS servers write it."""

import pytest

from groundstation.decoders.aprs_packet import Packet
from groundstation.decoders.tnc2 import read_line, unwrapped
from groundstation.records import Reason, Unreadable


def test_a_line_from_a_server_with_its_q_construct() -> None:
    packet = read_line(b"Q0HAB-11>APZ001,Q0AAA*,WIDE2-1,qAR,Q0AAB-10:!4706.00N/02018.00EO:hi\r\n")
    assert packet == Packet(
        source="Q0HAB-11",
        destination="APZ001",
        path=("Q0AAA*", "WIDE2-1", "qAR", "Q0AAB-10"),
        info=b"!4706.00N/02018.00EO:hi",
    )


def test_a_callsign_in_small_letters_is_the_same_tracker() -> None:
    packet = read_line(b"q0hab-11>apz001:>")
    assert isinstance(packet, Packet)
    assert packet.source == "Q0HAB-11"


def test_a_third_party_packet_is_unwrapped() -> None:
    # APRS 1.0.1 ch. 17: } and the whole packet in monitor form.
    line = b"Q0AAB-10>APZ001,WIDE1-1:}Q0HAB-11>APZ002,TCPIP,Q0AAB-10*:!4706.00N/02018.00EO"
    packet = read_line(line)
    assert isinstance(packet, Packet)
    assert unwrapped(packet) == Packet(
        source="Q0HAB-11",
        destination="APZ002",
        path=("TCPIP", "Q0AAB-10*", "Q0AAB-10", "WIDE1-1"),
        info=b"!4706.00N/02018.00EO",
    )


def test_wrappers_in_wrappers_end() -> None:
    packet = read_line(b"Q0A>B:}" * 200 + b"Q0A>B:!")
    assert isinstance(packet, Packet)
    assert isinstance(unwrapped(packet), Unreadable)


def test_what_the_server_itself_says() -> None:
    found = read_line(b"# aserver 1.0 14 May 2022 12:00:00 GMT")
    assert isinstance(found, Unreadable)
    assert found.reason is Reason.SERVER_COMMENT


@pytest.mark.parametrize(
    "line",
    [
        b"",
        b"no header at all",
        b"Q0HAB-11:!4706.00N/02018.00EO",
        b">APZ001:!4706.00N/02018.00EO",
        b"Q0 HAB>APZ001:x",
        b"Q0HAB-11>:x",
        b"Q0HAB-11>APZ001,,WIDE1:x",
        b"Q0HAB-11>APZ001,\xff\xfe:x",
        b"Q0HAB-11>APZ001" + b",WIDE1-1" * 30 + b":x",
    ],
)
def test_lines_of_another_form(line: bytes) -> None:
    found = read_line(line)
    assert isinstance(found, Unreadable)
    assert found.reason is Reason.UNREADABLE


@pytest.mark.parametrize(
    "before",
    [
        "APRS: ",
        "[0.3] ",
        "cmd:",
        "2026-05-16 09:00:00 ",
        "[2026-05-16T09:00:00Z] -97 dBm: ",
        "R: ",
        "\x00\x07",
    ],
)
@pytest.mark.parametrize("after", ["", " <UI>", " [05/16/26 09:00:00] <UI>", "<UI C>"])
def test_what_receivers_and_modems_put_around_a_packet(before: str, after: str) -> None:
    line = f"{before}Q0HAB-11>APZ001,Q0AAA*,WIDE2-1{after}:!4706.00N/02018.00EO"
    packet = read_line(line.encode())
    assert isinstance(packet, Packet), packet
    assert packet.source == "Q0HAB-11"
    assert packet.path == ("Q0AAA*", "WIDE2-1")
    assert packet.info == b"!4706.00N/02018.00EO"


@pytest.mark.parametrize(
    "line", ["cmd:", "[0.3]", "note: a>b: c", "APRS: Q0HAB-11>", "WIDE>APRS no colon", "> Q0A>B:x"]
)
def test_what_is_no_packet_stays_none(line: str) -> None:
    assert isinstance(read_line(line.encode()), Unreadable)
