"""The worked examples of the APRS Protocol Reference 1.0.1 (29 August 2000), by page.

Pages 32, 38 to 41 and 43 to 46 were checked against other people's tests that cite them; the
other pages and chapters are given from memory.
"""

from datetime import UTC, datetime

import pytest

from groundstation.decoders.aprs.decode import AprsDecoder
from groundstation.decoders.aprs.settings import AprsSettings
from groundstation.records import Reason, Report, Unreadable
from groundstation.units import FOOT_M, KNOT_MS

HUNDREDTH_M = 9.26
"""Half of 0.01 minute, at 1852 m the minute."""
RECEIVED = datetime(2024, 5, 10, 8, 0, tzinfo=UTC).timestamp()


def record(
    info: bytes, *, destination: str = "APZ001", received: float = RECEIVED, offset_s: float = 0.0
) -> Report | Unreadable:
    line = f"Q0HAB-11>{destination},WIDE2-1:".encode() + info
    (found,) = AprsDecoder(AprsSettings(utc_offset_s=offset_s)).decode(line, received)
    return found


def report(
    info: bytes, *, destination: str = "APZ001", received: float = RECEIVED, offset_s: float = 0.0
) -> Report:
    found = record(info, destination=destination, received=received, offset_s=offset_s)
    assert isinstance(found, Report), found
    return found


def moment(*parts: int) -> float:
    return datetime(*parts, tzinfo=UTC).timestamp()  # type: ignore[arg-type, misc]


def test_position_without_time_stamp() -> None:
    # p. 32
    found = report(b"!4903.50N/07201.75W-Test 001234")
    assert found.latitude_deg == pytest.approx(49 + 3.5 / 60)
    assert found.longitude_deg == pytest.approx(-(72 + 1.75 / 60))
    assert found.comment == "Test 001234"
    assert found.altitude_m is None
    assert found.time_utc is None
    assert found.tracker == "Q0HAB-11"
    assert found.path == ("WIDE2-1",)
    assert found.uncertainty_m == pytest.approx(HUNDREDTH_M)


def test_altitude_in_the_comment() -> None:
    # p. 32
    assert report(b"!4903.50N/07201.75W-Test /A=001234").altitude_m == pytest.approx(1234 * FOOT_M)


def test_altitude_below_the_sea() -> None:
    # Common practice, no source.
    assert report(b"!4903.50N/07201.75W-/A=-00123").altitude_m == pytest.approx(-123 * FOOT_M)


@pytest.mark.parametrize(
    ("left", "latitude", "half_width_m"),
    [
        # p. 24: four levels of ambiguity; the middle of what is left open.
        (b"4903.5 ", 49 + 3.55 / 60, 0.05 * 1852),
        (b"4903.  ", 49 + 3.5 / 60, 0.5 * 1852),
        (b"490 .  ", 49 + 5.0 / 60, 5.0 * 1852),
        (b"49  .  ", 49.5, 30.0 * 1852),
    ],
)
def test_position_ambiguity(left: bytes, latitude: float, half_width_m: float) -> None:
    found = report(b"!" + left + b"N/07201.75W-")
    assert found.latitude_deg == pytest.approx(latitude)
    assert found.uncertainty_m == pytest.approx(half_width_m)
    # The digits missing from the latitude count as missing from the longitude (p. 24).
    assert abs(found.longitude_deg + 72 + 1.75 / 60) * 60 * 1852 <= half_width_m * 1.0001


def test_stamp_of_day_and_time_in_utc() -> None:
    # p. 32
    found = report(b"/092345z4903.50N/07201.75W>Test1234")
    assert found.time_utc == moment(2024, 5, 9, 23, 45)
    assert found.comment == "Test1234"


def test_stamp_of_day_and_time_in_local_time() -> None:
    # p. 32; the zone is the sender's, here two hours ahead of UTC.
    info = b"@092345/4903.50N/07201.75W>Test1234"
    assert report(info).time_utc == moment(2024, 5, 9, 23, 45)
    assert report(info, offset_s=7200.0).time_utc == moment(2024, 5, 9, 21, 45)


def test_stamp_of_time_alone() -> None:
    # p. 32
    found = report(b"/234517h4903.50N/07201.75W>PHG5132")
    assert found.time_utc == moment(2024, 5, 9, 23, 45, 17)


@pytest.mark.parametrize("stamp", [b"241500h", b"236000h", b"320000z", b"000000z", b"092345x"])
def test_a_stamp_that_is_no_time_leaves_the_position(stamp: bytes) -> None:
    found = report(b"/" + stamp + b"4903.50N/07201.75W>")
    assert found.time_utc is None
    assert found.latitude_deg == pytest.approx(49 + 3.5 / 60)


def test_course_and_speed() -> None:
    # p. 34: 088/036 is 88 degrees at 36 knots.
    found = report(b"/092345z4903.50N/07201.75W>088/036")
    assert found.course_deg == 88.0
    assert found.speed_ms == pytest.approx(36 * KNOT_MS)
    assert found.comment == ""


@pytest.mark.parametrize("unknown", [b"000/000", b".../...", b"   /   "])
def test_unknown_course_and_speed(unknown: bytes) -> None:
    # p. 27
    found = report(b"=4903.50N/07201.75W>" + unknown)
    assert found.course_deg is None
    assert found.speed_ms is None


def test_wind_of_a_weather_station_is_no_course() -> None:
    # p. 65: with the symbol _ the same characters are the wind.
    found = report(b"!4903.50N/07201.75W_220/004g005t077")
    assert found.course_deg is None
    # 4 and 5 miles an hour, and 77 degrees Fahrenheit, which are 25 degrees Celsius.
    assert dict(found.telemetry) == pytest.approx(
        {
            "wind_from_deg": 220.0,
            "wind_speed_ms": 1.78816,
            "wind_gust_ms": 2.2352,
            "temperature_c": 25.0,
        }
    )


def test_object() -> None:
    # p. 58
    found = report(b";LEADER   *092345z4903.50N/07201.75W>088/036")
    assert found.tracker == "LEADER"
    assert found.time_utc == moment(2024, 5, 9, 23, 45)
    assert found.course_deg == 88.0
    assert found.speed_ms == pytest.approx(18.52)
    assert found.path == ("Q0HAB-11", "WIDE2-1")


def test_object_that_is_taken_back() -> None:
    # p. 58
    found = record(b";LEADER   _092345z4903.50N/07201.75W>088/036")
    assert isinstance(found, Unreadable)
    assert found.reason is Reason.NO_POSITION


def test_item() -> None:
    # p. 59
    found = report(b")AID #2!4903.50N/07201.75WA")
    assert found.tracker == "AID #2"
    assert found.latitude_deg == pytest.approx(49.058333, abs=1e-6)
    # p. 60: compressed
    assert report(b")MOBIL!\\5L!!<*e79 sT").latitude_deg == pytest.approx(49.5, abs=1e-5)


def test_compressed_with_course_and_speed() -> None:
    # p. 38 and 39
    found = report(b"=/5L!!<*e7>7P[")
    assert found.latitude_deg == pytest.approx(49.5, abs=1e-6)
    assert found.longitude_deg == pytest.approx(-72.75, abs=5e-6)
    assert found.course_deg == 88.0
    assert found.speed_ms == pytest.approx(36.2 * KNOT_MS, abs=0.05)
    assert 0.1 < found.uncertainty_m < 0.3


def test_compressed_with_range() -> None:
    # p. 39: a radio range is neither course nor altitude.
    found = report(b"=/5L!!<*e7>{?!")
    assert (found.course_deg, found.speed_ms, found.altitude_m) == (None, None, None)


def test_compressed_with_altitude() -> None:
    # p. 40: 10004.52 feet
    found = report(b"=/5L!!<*e7OS]S")
    assert found.altitude_m == pytest.approx(10004.52 * FOOT_M, abs=0.01)
    assert found.course_deg is None


def test_compressed_without_more() -> None:
    # p. 40
    found = report(b"!/5L!!<*e7> sT")
    assert (found.course_deg, found.speed_ms, found.altitude_m) == (None, None, None)
    # p. 40, with time stamp
    assert report(b"@092345z/5L!!<*e7>{?!").time_utc == moment(2024, 5, 9, 23, 45)


def test_position_after_other_text() -> None:
    # ch. 5: the ! may stand anywhere up to the 40th character, as some controllers send it.
    text = b"TheNet X-1J4  (BFLD)"
    assert report(text + b"!4903.50N/07201.75Wn").latitude_deg == pytest.approx(49.0583, abs=1e-4)
    assert isinstance(record(b"x" * 39 + b"!4903.50N/07201.75W-"), Report)
    assert isinstance(record(b"x" * 40 + b"!4903.50N/07201.75W-"), Unreadable)
    assert isinstance(record(b">status !4903.50N/07201.75W-"), Unreadable)


def test_mic_e_example() -> None:
    # p. 44 to 54: destination and information field of the same example.
    found = report(b'`(_fn"Oj/', destination="S32UVT")
    assert found.latitude_deg == pytest.approx(33 + 25.64 / 60)
    assert found.longitude_deg == pytest.approx(-(112 + 7.74 / 60))
    assert found.speed_ms == pytest.approx(20 * KNOT_MS)
    assert found.course_deg == 251.0
    assert found.uncertainty_m == pytest.approx(HUNDREDTH_M)


def test_mic_e_without_longitude_offset() -> None:
    # p. 44: S32U6T
    found = report(b'`(_fn"Oj/', destination="S32U6T")
    assert found.longitude_deg == pytest.approx(-(12 + 7.74 / 60))


@pytest.mark.parametrize("destination", ["S32UVT", "F2DUVT", "234UVT"])
def test_mic_e_latitude_digits_with_each_kind_of_message(destination: str) -> None:
    # p. 44: S, F and 2 are digits 3, 5 and 2 as standard, custom and no message bit.
    found = report(b'`(_fn"Oj/', destination=destination)
    digits = {"S32UVT": (33, 25.64), "F2DUVT": (52, 35.64), "234UVT": (23, 45.64)}
    degrees, minutes = digits[destination]
    assert found.latitude_deg == pytest.approx(degrees + minutes / 60)


def test_mic_e_ambiguity() -> None:
    # p. 44: T4SQZZ leaves two digits out.
    found = report(b'`(_fn"Oj/', destination="T4SQZZ")
    assert found.latitude_deg == pytest.approx(44 + 31.5 / 60)
    assert found.uncertainty_m == pytest.approx(0.5 * 1852)


@pytest.mark.parametrize("text", [b'"4T}', b'>"4T}', b']"4T}', b'`"4T}with text'])
def test_mic_e_altitude(text: bytes) -> None:
    # p. 55: 61 metres; at the beginning, or after the byte of the radio's kind.
    assert report(b'`(_fn"Oj/' + text, destination="S32UVT").altitude_m == 61.0


@pytest.mark.parametrize(
    ("info", "reason"),
    [
        (b">status", Reason.NO_POSITION),
        (b":Q0AAA    :hello{1", Reason.NO_POSITION),
        (b"T#005,199,000,255,073,123,01101001", Reason.NO_POSITION),
        (b"_10090556c220s004g005t077", Reason.NO_POSITION),
        (b"#50B7500820082", Reason.NO_POSITION),
        (b"<IGATE,MSG_CNT=1", Reason.NO_POSITION),
        (b"?APRS?", Reason.NO_POSITION),
        (b"[IO91SX] 35 miles", Reason.NO_POSITION),
        (b"High Altitude Payload", Reason.NO_POSITION),
        (b"", Reason.UNREADABLE),
        (b"!", Reason.UNREADABLE),
        (b"!4903.50N", Reason.UNREADABLE),
        (b"!4 03.50N/07201.75W-", Reason.UNREADABLE),
        (b"!49 3.50N/07201.75W-", Reason.UNREADABLE),
        (b"=/5L!!<*e7>7", Reason.UNREADABLE),
        (b"/09234", Reason.UNREADABLE),
        (b"/1743<9h4108.62N/08634.98WO", Reason.UNREADABLE),
        (b";SHORT*092345z", Reason.UNREADABLE),
        (b")AB", Reason.UNREADABLE),
        (b"`(_f", Reason.UNREADABLE),
        (b'`(_fn"Oj/', Reason.UNREADABLE),  # the address is not Mic-E
        (b"!9903.50N/07201.75W-", Reason.IMPOSSIBLE),
        (b"!4903.50N/18101.75W-", Reason.IMPOSSIBLE),
        (b"!4973.50N/07201.75W-", Reason.IMPOSSIBLE),
    ],
)
def test_what_holds_no_position(info: bytes, reason: Reason) -> None:
    found = record(info)
    assert isinstance(found, Unreadable)
    assert found.reason is reason


def test_sixty_minutes_are_a_rounded_minute() -> None:
    # Heard on one of the real flights: 08860.00W between 08859.7 and 08900.4.
    assert report(b"!4028.83N/08860.00WO").longitude_deg == pytest.approx(-89.0)


def test_a_raw_sentence_in_a_packet() -> None:
    # p. 12: $ begins an NMEA sentence. The sentence is a widely published example.
    found = report(b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47")
    assert found.tracker == "Q0HAB-11"
    assert found.altitude_m == pytest.approx(545.4)
