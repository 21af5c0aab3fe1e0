"""Times as people's trackers write them; and that what can't be read is never taken for now."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation.decoders.delimited import DelimitedDecoder, DelimitedSettings
from groundstation.decoders.json_map import JsonDecoder, JsonSettings
from groundstation.decoders.time_formats import check_time_format, read_time
from groundstation.errors import ConfigurationError
from groundstation.records import Read, Report

RECEIVED = datetime(2026, 11, 27, 0, 40, tzinfo=UTC).timestamp()
WANTED = datetime(2026, 11, 27, 0, 10, tzinfo=UTC).timestamp()


@pytest.mark.parametrize(
    ("text", "time_format"),
    [
        ("26-11-27 00:10:00", "%y-%m-%d %H:%M:%S"),
        ("2026-11-27 00:10:00 UTC", "iso"),
        ("2026-11-27 00:10:00 +0000", "iso"),
        ("2026/11/27 00:10:00", "iso"),
        ("2026-11-27T01:10:00+01:00", "iso"),
        ("20261127T001000Z", "iso"),
        ("27/11/2026 00:10:00", "%d/%m/%Y %H:%M:%S"),
        ("11/27/2026 12:10:00 AM", "%m/%d/%Y %I:%M:%S %p"),
        ("Fri, 27 Nov 2026 00:10:00 +0000", "rfc2822"),
        ("Fri Nov 27 00:10:00 2026", "ctime"),
        ("261127001000", "yymmddhhmmss"),
        ("271126001000", "ddmmyyhhmmss"),
        ("00:10", "hm"),
        ("0010", "hm"),
        ("001000", "hms"),
        ("600", "day-s"),
        ("27 00:10", "%d %H:%M"),
        ("Nov 27 00:10:00", "%b %d %H:%M:%S"),
        ("1795738200", "unix"),
        ("1795738200000", "unix-ms"),
        ("1795738200000000", "unix-us"),
    ],
)
def test_a_time_is_read(text: str, time_format: str) -> None:
    check_time_format(time_format)
    assert read_time(text, time_format, RECEIVED) == WANTED


@pytest.mark.parametrize(
    ("text", "time_format"),
    [
        ("26-11-27 00:10:00", "iso"),
        ("2026-11-27", "iso"),
        ("1000", "hms"),
        ("1000", "%H%M%S"),
        ("32/11/2026 00:10:00", "%d/%m/%Y %H:%M:%S"),
        ("9" * 200, "unix"),
        ("25:10", "hm"),
        ("86400", "day-s"),
    ],
)
def test_what_is_no_such_time_is_none(text: str, time_format: str) -> None:
    assert read_time(text, time_format, RECEIVED) is None


@pytest.mark.parametrize(
    ("time_format", "says"),
    [
        ("isoo", "did you mean 'iso'"),
        ("%d/%m/%Y", "no hour"),
        ("%Y %H:%M", "without a day"),
        ("%Z %H:%M", "utc_offset_s"),
        ("%c", "can't be used"),
        ("%H:%H", "twice"),
        ("%H:%M%", "time_format"),
    ],
)
def test_a_format_that_cannot_be_is_refused_before_the_flight(time_format: str, says: str) -> None:
    with pytest.raises(ConfigurationError, match=says):
        check_time_format(time_format)


def test_a_clock_of_the_senders_own_zone() -> None:
    hour = 3600.0
    assert read_time("01:10:00", "hms", RECEIVED, hour) == WANTED
    assert read_time("2026-11-27 01:10:00", "iso", RECEIVED, hour) == WANTED
    assert read_time("2026-11-27T00:10:00Z", "iso", RECEIVED, hour) == WANTED
    assert read_time("26 16:10", "%d %H:%M", RECEIVED, -8 * hour) == WANTED


FORMATS = ("%Y-%m-%d %H:%M:%S", "%d.%m.%Y %H:%M:%S", "%y%m%d%H%M%S", "%a %b %d %H:%M:%S %Y")


@given(
    moment=st.integers(980_000_000, 3_090_000_000),
    pattern=st.sampled_from(FORMATS),
    offset_h=st.integers(-12, 14),
)
def test_what_strftime_writes_is_read_back(moment: int, pattern: str, offset_h: int) -> None:
    """Against the standard library's own writer."""
    local = datetime.fromtimestamp(moment, UTC) + timedelta(hours=offset_h)
    assert read_time(local.strftime(pattern), pattern, RECEIVED, offset_h * 3600.0) == moment


@given(text=st.text(max_size=80), pattern=st.sampled_from((*FORMATS, "%H:%M", "rfc2822", "iso")))
def test_any_text_is_a_time_or_none(text: str, pattern: str) -> None:
    read = read_time(text, pattern, RECEIVED)
    assert read is None or 0.0 <= read < 253_370_764_800.0


def delimited(line: str, columns: tuple[str, ...], **more: object) -> Read:
    settings = DelimitedSettings(columns=columns, tracker="Q0HAB-11", **more)  # type: ignore[arg-type]
    (read,) = DelimitedDecoder(settings).decode(line.encode(), RECEIVED)
    return read


def test_a_time_that_is_not_understood_does_not_become_now() -> None:
    message = b'{"transmit_time": "26-11-27 00:10:00", "lat": 47.1, "lon": 20.3}'
    fields = {"time": "transmit_time", "lat": "lat", "lon": "lon"}
    (read,) = JsonDecoder(JsonSettings(fields=fields, tracker="x")).decode(message, RECEIVED)
    assert isinstance(read, Report)
    assert read.time_utc is None
    assert read.time_unread == "26-11-27 00:10:00"
    assert read.unread == (("time", "26-11-27 00:10:00"),)


def test_a_date_and_a_time_in_two_columns() -> None:
    read = delimited("2026-11-27,00:10:00,47.1,20.3", ("date", "time", "lat", "lon"))
    assert isinstance(read, Report)
    assert read.time_utc == WANTED
    read = delimited(
        "271126,001000,47.1,20.3", ("date", "time", "lat", "lon"), time_format="%d%m%y %H%M%S"
    )
    assert isinstance(read, Report)
    assert read.time_utc == WANTED


def test_a_time_in_six_columns() -> None:
    columns = ("year", "month", "day", "hour", "minute", "second", "lat", "lon")
    read = delimited("26,11,27,0,10,0.0,47.1,20.3", columns)
    assert isinstance(read, Report)
    assert read.time_utc == WANTED
    read = delimited("26,13,27,0,10,0.0,47.1,20.3", columns)
    assert isinstance(read, Report)
    assert read.time_utc is None
    assert read.time_unread


def test_a_time_of_1970_is_no_time() -> None:
    read = delimited("0,47.1,20.3", ("time", "lat", "lon"), time_format="unix")
    assert isinstance(read, Report)
    assert (read.time_utc, read.time_unread) == (None, "0")


def test_no_time_at_all_is_not_an_unread_one() -> None:
    read = delimited(",47.1,20.3", ("time", "lat", "lon"))
    assert isinstance(read, Report)
    assert (read.time_utc, read.time_unread) == (None, "")
