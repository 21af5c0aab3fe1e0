"""Moments out of dates and times of day that are not whole.

A time of day, or a day of the month, stands for the moment nearest to the reception. All values
are seconds since 1970-01-01T00:00:00Z unless a name says otherwise.
"""

import math
import re
from datetime import UTC, datetime, timedelta
from typing import Final

DAY_S: Final = 86_400  # seconds of a day of UTC, leap seconds left out
_LATEST_UTC: Final = 253_370_764_800.0  # 9999-01-01, a year short of where the calendar ends
_CLOCK: Final = re.compile(r"([0-9]{2}):?([0-9]{2}):?([0-9]{2}(?:\.[0-9]{1,9})?)")


def seconds_of_day(hour: int, minute: int, second: float) -> float | None:
    """Seconds since midnight, or None where no clock shows this time."""
    if not (0 <= hour < 24 and 0 <= minute < 60 and 0 <= second < 60):
        return None
    return hour * 3600 + minute * 60 + second


def nearest_time_of_day(of_day_s: float, received_utc: float) -> float | None:
    """The moment with this time of day (UTC) nearest to the reception; of two, the earlier.

    A time of a clock ahead of UTC may be given as less than 0 or more than a day.

    None where the time of reception is not in the years 1970 to 9998.
    """
    if not in_calendar(received_utc):
        return None
    midnight = math.floor(received_utc / DAY_S) * DAY_S
    return _nearest([midnight + day * DAY_S + of_day_s for day in (-2, -1, 0, 1, 2)], received_utc)


def nearest_day_of_month(
    day: int, of_day_s: float, received_utc: float, utc_offset_s: float = 0.0
) -> float | None:
    """The moment with this day of the month and time of day nearest to the reception.

    Day and time are of a clock that is ``utc_offset_s`` ahead of UTC. None for a day that is not
    in 1 to 31, and for a reception outside the years 1970 to 9998.
    """
    if not (1 <= day <= 31 and in_calendar(received_utc)):
        return None
    local = datetime.fromtimestamp(received_utc, UTC) + timedelta(seconds=utc_offset_s)
    moments = []
    # Two months either way: on 1 March the nearest 31st may be that of January.
    for shift in range(-2, 3):
        years, month = divmod(local.month - 1 + shift, 12)
        try:
            date = datetime(local.year + years, month + 1, day, tzinfo=UTC)
        except ValueError:
            continue
        moments.append(date.timestamp() + of_day_s - utc_offset_s)
    return _nearest(moments, received_utc)


def full_date(day: int, month: int, year_2: int, of_day_s: float, received: float) -> float | None:
    """A date with a year of two digits, in the century nearest to the reception."""
    moments = []
    for century in (1900, 2000, 2100):
        try:
            date = datetime(century + year_2, month, day, tzinfo=UTC)
        except ValueError:
            continue
        moments.append(date.timestamp() + of_day_s)
    return _nearest(moments, received) if moments and math.isfinite(received) else None


def nearest_year(month: int, day: int, of_day_s: float, received_utc: float) -> float | None:
    """The moment with this day of a year and time of day nearest to the reception."""
    if not in_calendar(received_utc):
        return None
    year = datetime.fromtimestamp(received_utc, UTC).year
    moments = []
    # Far enough that a 29 February is among them.
    for shift in (-4, -3, -2, -1, 0, 1, 2, 3, 4):
        try:
            date = datetime(max(year + shift, 1), month, day, tzinfo=UTC)
        except ValueError:
            continue
        moments.append(date.timestamp() + of_day_s)
    return _nearest(moments, received_utc) if moments else None


def clock_text(text: str) -> float | None:
    """Seconds since midnight from HHMMSS or HH:MM:SS with or without a fraction, or None."""
    found = _CLOCK.fullmatch(text)
    return seconds_of_day(int(found[1]), int(found[2]), float(found[3])) if found else None


def in_calendar(utc: float) -> bool:
    """Whether a calendar has this moment, with a year to spare."""
    return 0.0 <= utc < _LATEST_UTC


def _nearest(moments: list[float], received_utc: float) -> float:
    return float(min(moments, key=lambda moment: abs(moment - received_utc)))
