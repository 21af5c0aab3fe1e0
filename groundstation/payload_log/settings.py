"""Which column of a payload's log holds what."""

from dataclasses import dataclass, field
from enum import StrEnum


class LogTime(StrEnum):
    """How the log writes its time: as a tracker does (ISO 8601, seconds or milliseconds since 1970,
    time of day in UTC), or by a count of seconds or milliseconds from whenever it was switched
    on."""

    ISO = "iso"
    UNIX = "unix"
    UNIX_MS = "unix-ms"
    HMS = "hms"
    SECONDS = "seconds"
    MILLISECONDS = "milliseconds"


class DateOrder(StrEnum):
    """In which order a date gives year, month and day, with or without marks between them."""

    YMD = "ymd"
    DMY = "dmy"
    MDY = "mdy"


@dataclass(frozen=True, slots=True, kw_only=True)
class LogSettings:
    """``columns`` gives each value its column: by the heading, or by its number from 1 where there
    is no ``header``. ``units`` are needed where the values are not in the unit in the name.

    Known are ``time`` (needed), ``date`` (of a time of day that has its own column; without it the
    flight tells the day), ``pressure_hpa`` and ``altitude_m`` (one of them is needed),
    ``lat``, ``lon``, ``temperature_c`` (of the air), ``humidity`` (relative, in per cent); any
    other name is kept and drawn. The first ``skip`` lines are passed over.
    """

    columns: dict[str, str]
    units: dict[str, str] = field(default_factory=dict)
    time_format: LogTime = LogTime.ISO
    date_order: DateOrder = DateOrder.YMD
    separator: str = ","
    header: bool = True
    skip: int = 0
