"""APRS against aprslib, a parser of other people's, on real packets and on made ones."""

import re
from pathlib import Path
from typing import Any

import aprslib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation.decoders.aprs.decode import AprsDecoder
from groundstation.decoders.aprs.settings import AprsSettings
from groundstation.records import Report
from groundstation.units import FOOT_M, KNOT_MS

DEGREE = 1e-5
GROUP = re.compile(rb"![A-Za-z][ -{]{2}!")
DECODER = AprsDecoder(AprsSettings())


def oracle(packet: bytes) -> dict[str, Any] | None:
    """What aprslib says of the packet, or None if it finds no position."""
    try:
        found: dict[str, Any] = aprslib.parse(packet.decode("latin-1"))
    except (aprslib.ParseError, aprslib.UnknownFormat):
        return None
    return found if "latitude" in found else None


def packets(shared: Path) -> list[tuple[float, bytes]]:
    files = sorted((shared / "flights" / "packets").glob("f*.txt"))
    lines = [line for file in files for line in file.read_bytes().splitlines()]
    rows = [line.partition(b"\t") for line in lines]
    return [(float(time), packet) for time, _, packet in rows]


def test_every_real_packet_as_aprslib_reads_it(shared: Path) -> None:
    """Same positions accepted and refused, same values.

    One difference is meant: aprslib refines a position by the last of several groups of digits,
    this decoder by none. There the groups are taken out before aprslib sees the packet.
    """
    positions = 0
    for received, packet in packets(shared):
        (found,) = DECODER.decode(packet, received)
        several = len(GROUP.findall(packet)) > 1
        expected = oracle(GROUP.sub(b"", packet) if several else packet)
        assert isinstance(found, Report) == (expected is not None), packet
        if expected is None or not isinstance(found, Report):
            continue
        positions += 1
        assert found.tracker == expected["from"]
        assert list(found.path) == expected["path"]
        assert found.latitude_deg == pytest.approx(expected["latitude"], abs=DEGREE)
        assert found.longitude_deg == pytest.approx(expected["longitude"], abs=DEGREE)
        assert found.altitude_m == pytest.approx(expected.get("altitude"))
        if "speed" in expected:
            assert found.speed_ms == pytest.approx(expected["speed"] / 3.6)
        if expected.get("course"):
            assert found.course_deg == pytest.approx(expected["course"] % 360)
    # 4324 lines are in the folder, 3239 of which aprslib reads as positions.
    assert positions == 3239


def test_every_real_time_is_near_its_reception(shared: Path) -> None:
    """The packets were heard at once or, as the folder's README says, up to 46 min late."""
    without_time = 0
    for received, packet in packets(shared):
        (found,) = DECODER.decode(packet, received)
        if isinstance(found, Report):
            if found.time_utc is None:
                without_time += 1
            else:
                assert -10.0 <= received - found.time_utc <= 47 * 60.0, packet
    assert without_time == 1  # damaged: /754234h


def minutes(hundredths: int, width: int) -> str:
    degrees, rest = divmod(hundredths, 6000)
    return f"{degrees:0{width}d}{rest // 100:02d}.{rest % 100:02d}"


@st.composite
def places(draw: st.DrawFn) -> tuple[int, str, int, str]:
    """Hundredths of minutes with their sides, as the uncompressed form and Mic-E carry them."""
    lat = draw(st.integers(0, 90 * 6000 - 1))
    lon = draw(st.integers(0, 180 * 6000 - 1))
    return lat, draw(st.sampled_from("NS")), lon, draw(st.sampled_from("EW"))


def signed(place: tuple[int, str, int, str]) -> tuple[float, float]:
    lat, lat_side, lon, lon_side = place
    return (-1) ** (lat_side == "S") * lat / 6000, (-1) ** (lon_side == "W") * lon / 6000


def check(packet: bytes) -> Report:
    """The report, after aprslib has found the same."""
    (found,) = DECODER.decode(packet, 1.7e9)
    assert isinstance(found, Report), found
    expected = oracle(packet)
    assert expected is not None, packet
    assert found.latitude_deg == pytest.approx(expected["latitude"], abs=DEGREE)
    assert found.longitude_deg == pytest.approx(expected["longitude"], abs=DEGREE)
    assert found.altitude_m == pytest.approx(expected.get("altitude"))
    if "speed" in expected:
        assert found.speed_ms == pytest.approx(expected["speed"] / 3.6)
    return found


@given(
    place=places(),
    course=st.integers(1, 360),
    speed=st.integers(0, 999),
    feet=st.integers(0, 150_000),
)
def test_uncompressed_there_and_back(
    place: tuple[int, str, int, str], course: int, speed: int, feet: int
) -> None:
    lat, lat_side, lon, lon_side = place
    text = f"{minutes(lat, 2)}{lat_side}/{minutes(lon, 3)}{lon_side}O{course:03d}/{speed:03d}"
    found = check(f"Q0HAB-11>APZ001:!{text}/A={feet:06d}".encode())
    assert (found.latitude_deg, found.longitude_deg) == pytest.approx(signed(place), abs=1e-9)
    assert found.course_deg == course % 360
    assert found.speed_ms == pytest.approx(speed * KNOT_MS)
    assert found.altitude_m == pytest.approx(feet * FOOT_M)


@given(place=places(), left_out=st.integers(1, 4))
def test_ambiguous_uncompressed_holds_the_truth(
    place: tuple[int, str, int, str], left_out: int
) -> None:
    lat, lat_side, lon, lon_side = place

    def blanked(text: str) -> str:
        keep = len(text) - left_out - (left_out > 2)
        return "".join(char if at < keep or char == "." else " " for at, char in enumerate(text))

    text = f"{blanked(minutes(lat, 2))}{lat_side}/{blanked(minutes(lon, 3))}{lon_side}O"
    found = check(f"Q0HAB-11>APZ001:!{text}".encode())
    for value, truth in zip((found.latitude_deg, found.longitude_deg), signed(place), strict=True):
        assert abs(value - truth) * 60 * 1852 <= found.uncertainty_m + 1e-3


def base91(value: int, digits: int) -> str:
    return "".join(chr(33 + value // 91**power % 91) for power in reversed(range(digits)))


@given(
    lat=st.floats(-90, 90),
    lon=st.floats(-180, 180),
    extra=st.one_of(
        st.none(),
        st.tuples(st.integers(0, 89), st.integers(0, 90)),
        st.integers(0, 91 * 91 - 1),
    ),
)
def test_compressed_there_and_back(
    lat: float, lon: float, extra: tuple[int, int] | int | None
) -> None:
    match extra:
        case None:
            tail = " sT"
        case (course, speed):
            tail = chr(33 + course) + chr(33 + speed) + "["
        case altitude:
            tail = base91(altitude, 2) + "S"
    digits = base91(round(380926 * (90 - lat)), 4) + base91(round(190463 * (180 + lon)), 4)
    found = check(f"Q0HAB-11>APZ001:=/{digits}O{tail}".encode())
    assert found.latitude_deg == pytest.approx(lat, abs=0.6 / 380926)
    assert found.longitude_deg == pytest.approx(lon, abs=0.6 / 190463)


def mic_e(
    place: tuple[int, str, int, str],
    course: int,
    speed: int,
    altitude: int,
    messages: str,
    course_offset: int = 400,
) -> bytes:
    """A Mic-E packet, put together from the tables of APRS 1.0.1 ch. 10. Senders may add 400 to the
    course, so that its byte can be printed, or not."""
    lat, lat_side, lon, lon_side = place
    digits = f"{lat // 6000:02d}{lat % 6000:04d}"
    degrees, rest = divmod(lon, 6000)
    offset = degrees < 10 or degrees >= 100
    flags = [*messages, "P" if lat_side == "N" else "0", "P" if offset else "0"]
    flags.append("P" if lon_side == "W" else "0")
    address = "".join(
        chr(ord(flag) + int(digit)) for flag, digit in zip(flags, digits, strict=True)
    )
    if degrees < 10:
        degree_byte = degrees + 118
    elif degrees < 100:
        degree_byte = degrees + 28
    elif degrees < 110:
        degree_byte = degrees + 8
    else:
        degree_byte = degrees - 72
    whole, hundredths = divmod(rest, 100)
    info = [
        degree_byte,
        whole + (88 if whole < 10 else 28),
        hundredths + 28,
        speed // 10 + (108 if speed < 200 else 28),
        speed % 10 * 10 + (course + course_offset) // 100 + 28,
        course % 100 + 28,
    ]
    text = b"O/" + base91(altitude + 10_000, 3).encode() + b"}"
    return f"Q0HAB-11>{address}:`".encode() + bytes(info) + text


@given(
    place=places(),
    course=st.integers(0, 360),
    speed=st.integers(0, 799),
    altitude=st.integers(-500, 50_000),
    messages=st.text("0AP", min_size=3, max_size=3),
)
def test_mic_e_there_and_back(
    place: tuple[int, str, int, str], course: int, speed: int, altitude: int, messages: str
) -> None:
    found = check(mic_e(place, course, speed, altitude, messages))
    assert (found.latitude_deg, found.longitude_deg) == pytest.approx(signed(place), abs=1e-9)
    assert found.speed_ms == pytest.approx(speed * KNOT_MS)
    assert found.course_deg == (course % 360 if course else None)
    assert found.altitude_m == altitude


@pytest.mark.parametrize("side", "EW")
def test_every_degree_of_longitude_in_mic_e(side: str) -> None:
    """Drawn integers are uneven: 100 to 109 hardly come, and have bytes of their own."""
    for degrees in range(180):
        place = (47 * 6000 + 1234, "N", degrees * 6000 + 3456, side)
        found = check(mic_e(place, 90, 12, 1_000, "0AP"))
        assert found.longitude_deg == pytest.approx(signed(place)[1], abs=1e-9)


@pytest.mark.parametrize("offset", [0, 400])
@pytest.mark.parametrize("course", [0, 1, 99, 100, 359, 360])
def test_a_course_in_mic_e_with_its_offset_and_without(course: int, offset: int) -> None:
    place = (47 * 6000, "N", 20 * 6000, "E")
    found = check(mic_e(place, course, 12, 1_000, "0AP", offset))
    assert found.course_deg == (course % 360 if course else None)
