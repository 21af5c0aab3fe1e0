"""A time that comes as separate numbers: year, month, day, hour, minute, second."""

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Final

from groundstation.decoders.text import number
from groundstation.decoders.timestamps import (
    in_calendar,
    nearest_day_of_month,
    nearest_time_of_day,
    nearest_year,
    seconds_of_day,
)

PARTS: Final = ("year", "month", "day", "hour", "minute", "second")


def time_of_parts(
    parts: Mapping[str, str], received_utc: float, utc_offset_s: float = 0.0
) -> float | None:
    """Seconds since 1970, or None where the parts are no time.

    The parts are of a clock ``utc_offset_s`` ahead of UTC. ``hour`` is needed; what is left out of
    minute and second is 0, and the date is made whole with the time of reception. A year below 100
    is of this century.
    """
    values = {name: number(text) for name, text in parts.items()}
    whole = {name: int(value) for name, value in values.items() if value is not None}
    second = values.get("second") if "second" in values else 0.0
    if len(whole) < len(parts) or second is None:
        return None
    if any(values[name] != whole[name] for name in whole if name != "second"):
        return None
    of_day_s = seconds_of_day(whole["hour"], whole.get("minute", 0), second)
    if of_day_s is None:
        return None
    match [name in whole for name in ("year", "month", "day")]:
        case [False, False, False]:
            return nearest_time_of_day(of_day_s - utc_offset_s, received_utc)
        case [False, False, True]:
            return nearest_day_of_month(whole["day"], of_day_s, received_utc, utc_offset_s)
        case [False, True, True]:
            return nearest_year(whole["month"], whole["day"], of_day_s - utc_offset_s, received_utc)
        case [True, True, True]:
            year = whole["year"] + (2000 if 0 <= whole["year"] < 100 else 0)
            try:
                day = datetime(year, whole["month"], whole["day"], tzinfo=UTC).timestamp()
            except (ValueError, OverflowError):
                return None
            moment = day + of_day_s - utc_offset_s
            return moment if in_calendar(moment) else None
        case _:
            return None
