"""Times of day and days of the month, resolved against the time of reception."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation.decoders.time_formats import TimeFormat, read_time
from groundstation.decoders.timestamps import full_date, nearest_day_of_month, nearest_time_of_day

RECEPTIONS = st.floats(365 * 86_400.0, 230 * 365.25 * 86_400.0)
SECONDS = st.integers(0, 86_399)


def utc(text: str) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()


@given(received=RECEPTIONS, of_day=SECONDS)
def test_time_of_day_is_the_nearest_one(received: float, of_day: int) -> None:
    found = nearest_time_of_day(of_day, received)
    assert found is not None
    assert found % 86_400 == of_day
    assert abs(found - received) <= 43_200


@given(received=RECEPTIONS, day=st.integers(1, 31), of_day=SECONDS)
def test_day_of_month_is_the_nearest_one(received: float, day: int, of_day: int) -> None:
    found = nearest_day_of_month(day, of_day, received)
    # By another way: walk over all days for ten weeks on either side.
    today = datetime.fromtimestamp(received, UTC).replace(hour=0, minute=0, second=0, microsecond=0)
    days = (today + timedelta(days=shift) for shift in range(-70, 71))
    moments = [date.timestamp() + of_day for date in days if date.day == day]
    assert found == min(moments, key=lambda moment: abs(moment - received))


@given(
    sent=RECEPTIONS,
    delay=st.floats(-3600.0, 6 * 86_400.0),
    offset=st.integers(-12, 14).map(lambda hours: hours * 3600.0),
)
def test_a_packet_up_to_six_days_late_keeps_its_minute(
    sent: float, delay: float, offset: float
) -> None:
    sent = sent // 60 * 60
    local = datetime.fromtimestamp(sent, UTC) + timedelta(seconds=offset)
    of_day = local.hour * 3600 + local.minute * 60
    assert nearest_day_of_month(local.day, of_day, sent + delay, offset) == sent


@pytest.mark.parametrize(
    ("day", "received", "expected"),
    [
        (31, "2024-03-01T00:10", "2024-01-31T23:50"),  # 29 days back, 31 March is 30 days off
        (31, "2024-12-31T23:59", "2024-12-31T23:50"),
        (31, "2025-01-01T00:01", "2024-12-31T23:50"),
        (1, "2024-12-31T23:59", "2025-01-01T23:50"),
        (29, "2024-03-01T00:10", "2024-02-29T23:50"),
        (29, "2023-03-01T00:10", "2023-03-29T23:50"),  # no 29 February that year
    ],
)
def test_months_and_years_roll_over(day: int, received: str, expected: str) -> None:
    of_day = 23 * 3600 + 50 * 60
    assert nearest_day_of_month(day, of_day, utc(received)) == utc(expected)


@pytest.mark.parametrize("received", [float("nan"), float("inf"), -1.0, 1e18])
def test_a_reception_outside_the_calendar_resolves_nothing(received: float) -> None:
    assert nearest_time_of_day(0.0, received) is None
    assert nearest_day_of_month(1, 0.0, received) is None


@pytest.mark.parametrize(
    ("text", "time_format", "expected"),
    [
        ("2024-05-03T12:55:05Z", TimeFormat.ISO, utc("2024-05-03T12:55:05")),
        ("2024-05-03 12:55:05", TimeFormat.ISO, utc("2024-05-03T12:55:05")),
        ("2024-05-03T14:55:05.5+02:00", TimeFormat.ISO, utc("2024-05-03T12:55:05") + 0.5),
        ("2000-00-00 00:00:00", TimeFormat.ISO, None),
        ("0001-01-01T00:00:00+23:59", TimeFormat.ISO, None),
        ("", TimeFormat.ISO, None),
        ("1714740905.25", TimeFormat.UNIX, 1714740905.25),
        ("1714740905250", TimeFormat.UNIX_MS, 1714740905.25),
        ("-5", TimeFormat.UNIX, None),
        ("1e99", TimeFormat.UNIX, None),
        ("nan", TimeFormat.UNIX, None),
        ("١٧١٤٧٤٠٩٠٥", TimeFormat.UNIX, None),
        ("125505", TimeFormat.HMS, utc("2024-05-03T12:55:05")),
        ("12:55:05.5", TimeFormat.HMS, utc("2024-05-03T12:55:05") + 0.5),
        ("235959", TimeFormat.HMS, utc("2024-05-02T23:59:59")),
        ("240000", TimeFormat.HMS, None),
        ("12:55", TimeFormat.HMS, None),
    ],
)
def test_time_formats(text: str, time_format: TimeFormat, expected: float | None) -> None:
    assert read_time(text, time_format, utc("2024-05-03T10:00:00")) == expected


def test_a_year_of_two_digits_is_in_the_nearest_century() -> None:
    assert full_date(23, 3, 94, 0.0, utc("2024-05-03T00:00")) == utc("1994-03-23T00:00")
    assert full_date(3, 5, 24, 0.0, utc("2024-05-03T00:00")) == utc("2024-05-03T00:00")
    assert full_date(30, 2, 24, 0.0, utc("2024-05-03T00:00")) is None
