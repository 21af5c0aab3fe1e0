"""NMEA 0183 sentences. The examples are widely published ones of the standard."""

from datetime import UTC, datetime

import pytest

from groundstation.decoders.checksums import nmea_xor
from groundstation.decoders.nmea import NmeaDecoder, NmeaSettings
from groundstation.errors import ConfigurationError
from groundstation.records import Reason, Report, Unreadable

RECEIVED = datetime(1994, 3, 24, 0, 0, 30, tzinfo=UTC).timestamp()
BOTH = ("GGA", "RMC")
GGA = b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47"
RMC = b"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A"


def sentence(body: str) -> bytes:
    return f"${body}*{nmea_xor(body.encode()):02X}".encode()


def record(
    data: bytes,
    sentences: tuple[str, ...] = BOTH,
    required: bool = True,
    received: float = RECEIVED,
) -> Report | Unreadable:
    settings = NmeaSettings(tracker="kanalas-1", sentences=sentences, checksum_required=required)
    (found,) = NmeaDecoder(settings).decode(data, received)
    return found


def report(data: bytes, sentences: tuple[str, ...] = BOTH, required: bool = True) -> Report:
    found = record(data, sentences, required)
    assert isinstance(found, Report), found
    return found


def test_gga() -> None:
    found = report(GGA)
    assert found.tracker == "kanalas-1"
    assert found.latitude_deg == pytest.approx(48.1173)
    assert found.longitude_deg == pytest.approx(11.516667, abs=1e-6)
    assert found.altitude_m == 545.4  # above mean sea level, as field 9 is
    assert found.satellites == 8
    assert found.time_utc == datetime(1994, 3, 23, 12, 35, 19, tzinfo=UTC).timestamp()
    assert found.uncertainty_m == pytest.approx(0.926)


def test_gga_with_fractions_and_west() -> None:
    found = report(b"$GPGGA,092750.000,5321.6802,N,00630.3372,W,1,8,1.03,61.7,M,55.2,M,,*76")
    assert found.latitude_deg == pytest.approx(53.361337, abs=1e-6)
    assert found.longitude_deg == pytest.approx(-6.505620, abs=1e-6)


def test_rmc() -> None:
    found = report(RMC)
    assert found.altitude_m is None
    assert found.speed_ms == pytest.approx(11.524, abs=5e-4)
    assert found.course_deg == 84.4
    assert found.time_utc == datetime(1994, 3, 23, 12, 35, 19, tzinfo=UTC).timestamp()


def test_rmc_beside_gga_is_left_out_unless_asked_for() -> None:
    found = record(RMC, sentences=("GGA",))
    assert isinstance(found, Unreadable)
    assert found.reason is Reason.NO_POSITION


@pytest.mark.parametrize("talker", ["GP", "GN", "GL", "GA", "GB", "BD"])
def test_any_talker(talker: str) -> None:
    assert report(sentence(f"{talker}GGA,,4807.038,N,01131.000,E,1,08,,,M,,,,")).time_utc is None


@pytest.mark.parametrize(
    "body",
    [
        "GPGGA,123519,4807.038,N,01131.000,E,0,00,,,M,,M,,",
        "GPGGA,123519,,,,,0,00,,,M,,M,,",
        "GPGGA,123519,,,,,,,,,,,,,",
        "GPGGA,123519,,,,,1,08,,,M,,M,,",
        "GPRMC,123519,V,4807.038,N,01131.000,E,,,230394,,",
        "GPRMC,,V,,,,,,,,,,N",
        "GPRMC,123519,A,4807.038,N,01131.000,E,,,230394,,,N",
    ],
)
def test_no_fix_is_no_position(body: str) -> None:
    found = record(sentence(body))
    assert isinstance(found, Unreadable)
    assert found.reason is Reason.NO_FIX


@pytest.mark.parametrize(
    "body",
    [
        "GPGGA,123519,4807.038,N,01131.000,E,6,00,,,M,,M,,",
        "GPGGA,123519,4807.038,N,01131.000,E,7,00,,545.4,M,,M,,",
        "GPGGA,123519,4807.038,N,01131.000,E,8,08,,545.4,M,,M,,",
        "GPRMC,123519,A,4807.038,N,01131.000,E,,,230394,,,E",
        "GPRMC,123519,A,4807.038,N,01131.000,E,,,230394,,,M",
        "GPRMC,123519,A,4807.038,N,01131.000,E,,,230394,,,S",
    ],
)
def test_what_no_receiver_measured_is_not_a_valid_fix(body: str) -> None:
    assert not report(sentence(body)).valid


def test_checksums() -> None:
    wrong = record(GGA.replace(b"545.4", b"545.5"))
    assert isinstance(wrong, Unreadable)
    assert wrong.reason is Reason.CHECKSUM
    bare = GGA.partition(b"*")[0]
    missing = record(bare)
    assert isinstance(missing, Unreadable)
    assert missing.reason is Reason.CHECKSUM
    assert report(bare, required=False).altitude_m == 545.4
    assert isinstance(record(GGA[:-1] + b"8", required=False), Unreadable)


def test_text_before_the_sentence() -> None:
    assert report(b"\xff12:00 $" + GGA + b"\r\n") == report(GGA)


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"", Reason.UNREADABLE),
        (b"GPGGA,123519", Reason.UNREADABLE),
        (b"$", Reason.CHECKSUM),
        (sentence("PUBX,00"), Reason.UNREADABLE),
        (sentence("GPGLL,4916.45,N,12311.12,W,225444,A,"), Reason.NO_POSITION),
        (sentence("GPGGA,123519,4807.038,N"), Reason.UNREADABLE),
        (sentence("GPRMC,123519,A,4807.038"), Reason.UNREADABLE),
        (sentence("GPGGA,123519,4867.038,N,01131.000,E,1,8,,1,M,,,,"), Reason.UNREADABLE),
        (sentence("GPGGA,123519,4807.038,E,01131.000,N,1,8,,1,M,,,,"), Reason.UNREADABLE),
        (sentence("GPGGA,123519,4807.038,,01131.000,,1,8,,1,M,,,,"), Reason.UNREADABLE),
        (sentence("GPGGA,123519,9107.038,N,01131.000,E,1,8,,1,M,,,,"), Reason.IMPOSSIBLE),
    ],
)
def test_what_is_not_read(data: bytes, reason: Reason) -> None:
    found = record(data)
    assert isinstance(found, Unreadable)
    assert found.reason is reason
    assert found.detail.endswith(".")


def test_settings_that_cannot_work() -> None:
    with pytest.raises(ConfigurationError, match="tracker"):
        NmeaDecoder(NmeaSettings())
    with pytest.raises(ConfigurationError, match="GSV"):
        NmeaDecoder(NmeaSettings(tracker="x", sentences=("GSV",)))
    with pytest.raises(ConfigurationError, match="nothing"):
        NmeaDecoder(NmeaSettings(tracker="x", sentences=()))


def test_a_position_with_its_time_alone() -> None:
    # A GLL sentence that is quoted everywhere (from memory); its sum is right.
    line = b"$GPGLL,4916.45,N,12311.12,W,225444,A,*1D"
    (found,) = NmeaDecoder(NmeaSettings(tracker="x", sentences=("GLL",))).decode(line, RECEIVED)
    assert isinstance(found, Report)
    assert found.latitude_deg == pytest.approx(49.274167, abs=1e-6)
    assert found.longitude_deg == pytest.approx(-123.185333, abs=1e-6)
    assert found.altitude_m is None
    assert not found.time_unread
    for status in ("V", "A,N"):
        body = f"GPGLL,4916.45,N,12311.12,W,225444,{status}"
        (none,) = NmeaDecoder(
            NmeaSettings(tracker="x", sentences=("GLL",), checksum_required=False)
        ).decode(f"${body}".encode(), RECEIVED)
        assert isinstance(none, Unreadable)
        assert none.reason is Reason.NO_FIX
