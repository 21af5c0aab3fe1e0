"""How trackers write times: some formats by name, any other by a pattern.

All values are seconds since 1970-01-01T00:00:00Z unless a name says otherwise.
"""

import difflib
import re
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from enum import StrEnum
from typing import Final

from groundstation.decoders.text import number
from groundstation.decoders.timestamps import (
    DAY_S,
    clock_text,
    in_calendar,
    nearest_day_of_month,
    nearest_time_of_day,
    nearest_year,
    seconds_of_day,
)
from groundstation.errors import ConfigurationError

LONGEST: Final = 64
"""More characters than any time has. Own choice."""

LARGEST_OFFSET_S: Final = 14 * 3600.0
"""No clock on Earth is further from UTC."""

_ZONE: Final = re.compile(r"\s*(?:UTC|GMT|Z)$", re.IGNORECASE)
_SPACED_OFFSET: Final = re.compile(r"\s+([+-][0-9]{2}:?[0-9]{2})$")
_SLASHES: Final = re.compile(r"^([0-9]{4})/([0-9]{2})/([0-9]{2})")
_HM: Final = re.compile(r"([0-9]{2}):?([0-9]{2})")
_DIRECTIVE: Final = re.compile(r"%(.)")
_OF_A_YEAR: Final = frozenset("Yy")
_OF_A_MONTH: Final = frozenset("mbB")
_OF_A_DAY: Final = frozenset("d")
_NEEDED: Final = frozenset("HI")
_TAKEN: Final = frozenset("aAdbBmyYHIpMSfz%")
_TOGETHER: Final = re.compile(r"%[dmyYHIMS]%[dmyYHIMS]")
_DIGITS_OF: Final = frozenset("dmyYHIMS")
_OTHER_PATTERNS: Final = {
    "ctime": "%a %b %d %H:%M:%S %Y",
    "yymmddhhmmss": "%y%m%d%H%M%S",
    "ddmmyyhhmmss": "%d%m%y%H%M%S",
}
_UNIX: Final = {"unix": 1.0, "unix-ms": 1e3, "unix-us": 1e6}


class TimeFormat(StrEnum):
    """The formats that have names.

    ISO 8601; seconds, milliseconds or microseconds since 1970; the time of day as HHMMSS or
    HH:MM:SS, or as HHMM or HH:MM; seconds since midnight; the date of a mail (RFC 2822); the text
    of C's ``ctime``; and six pairs of digits, year or day first.
    """

    ISO = "iso"
    UNIX = "unix"
    UNIX_MS = "unix-ms"
    UNIX_US = "unix-us"
    HMS = "hms"
    HM = "hm"
    DAY_S = "day-s"
    RFC2822 = "rfc2822"
    CTIME = "ctime"
    YYMMDDHHMMSS = "yymmddhhmmss"
    DDMMYYHHMMSS = "ddmmyyhhmmss"


def check_time_format(time_format: str) -> None:
    """Raises ``ConfigurationError`` for what is neither a name nor a pattern that can be read.

    A pattern is one of Python's ``strptime`` with what does not depend on a language setting.
    """
    known = [member.value for member in TimeFormat]
    if time_format in known:
        return
    if "%" not in time_format:
        near = difflib.get_close_matches(time_format, known, n=1)
        advice = f"; did you mean {near[0]!r}?" if near else ""
        raise ConfigurationError(
            f"time_format: {time_format!r} is none of {', '.join(known)}, nor a pattern such as"
            f" '%d/%m/%Y %H:%M:%S'{advice}"
        )
    parts = _DIRECTIVE.findall(time_format)
    odd = sorted(set(parts) - _TAKEN)
    if odd:
        raise ConfigurationError(
            f"time_format: %{odd[0]} can't be used; known are"
            f" {' '.join(f'%{letter}' for letter in sorted(_TAKEN))}. Write the name of a zone as"
            " it stands, and how far it is ahead of UTC as utc_offset_s"
        )
    if not _NEEDED & set(parts):
        raise ConfigurationError("time_format: the pattern has no hour (%H)")
    if (_OF_A_YEAR & set(parts) or _OF_A_MONTH & set(parts)) and not (
        _OF_A_MONTH & set(parts) and _OF_A_DAY & set(parts)
    ):
        raise ConfigurationError("time_format: the pattern has a year or a month without a day")
    try:
        datetime.strptime("", time_format)  # noqa: DTZ007 - it is not to be read
    except re.error as error:
        raise ConfigurationError("time_format: the pattern names a part twice") from error
    except ValueError as error:
        if "does not match" not in str(error):
            raise ConfigurationError(f"time_format: {error}") from error


def read_time(
    text: str, time_format: str, received_utc: float, utc_offset_s: float = 0.0
) -> float | None:
    """Read a time in this format, or None where the text is no such time.

    ``utc_offset_s`` is how far the clock that wrote it is ahead of UTC, where the text itself
    does not say.
    """
    text = text.strip()
    if not text or len(text) > LONGEST:
        return None
    if time_format in _UNIX:
        value = number(text)
        value = None if value is None else value / _UNIX[time_format]
        return value if value is not None and in_calendar(value) else None
    match time_format:
        case TimeFormat.ISO:
            return _iso(text, utc_offset_s)
        case TimeFormat.HMS:
            # A number that lost its leading zero still has five digits.
            of_day_s = clock_text(text.zfill(6) if len(text) == 5 and text.isdigit() else text)
        case TimeFormat.HM:
            found = _HM.fullmatch(text)
            of_day_s = seconds_of_day(int(found[1]), int(found[2]), 0.0) if found else None
        case TimeFormat.DAY_S:
            of_day_s = number(text)
            of_day_s = of_day_s if of_day_s is not None and 0.0 <= of_day_s < DAY_S else None
        case TimeFormat.RFC2822:
            return _mail(text, utc_offset_s)
        case _:
            pattern = _OTHER_PATTERNS.get(time_format, time_format)
            return _by_pattern(text, pattern, received_utc, utc_offset_s)
    return None if of_day_s is None else nearest_time_of_day(of_day_s - utc_offset_s, received_utc)


def _iso(text: str, utc_offset_s: float) -> float | None:
    plain = _SLASHES.sub(r"\1-\2-\3", text)
    zone = _ZONE.search(plain)
    plain = _SPACED_OFFSET.sub(r"\1", plain[: zone.start()] + "+00:00" if zone else plain)
    if ":" not in plain and "T" not in plain.upper() and len(plain) < 12:
        # A date alone is no time: midnight would be a guess.
        return None
    try:
        return _seconds(datetime.fromisoformat(plain), utc_offset_s)
    except (ValueError, OverflowError):
        return None


def _mail(text: str, utc_offset_s: float) -> float | None:
    try:
        return _seconds(parsedate_to_datetime(text), utc_offset_s)
    except (ValueError, OverflowError, TypeError, IndexError):
        return None


def _by_pattern(text: str, pattern: str, received_utc: float, utc_offset_s: float) -> float | None:
    named = _DIRECTIVE.findall(pattern)
    digits = sum(char.isdigit() for char in text)
    together = _TOGETHER.search(pattern) is not None and _DIGITS_OF.issuperset(named)
    if together and digits != sum(4 if letter == "Y" else 2 for letter in named):
        # "1000" would else be ten o'clock, where it was 00:10:00 that lost its zeros.
        return None
    parts = set(named)
    whole = bool(parts & _OF_A_YEAR)
    # Without a year: one with a 29 February, so that none is refused.
    shown, wanted = (text, pattern) if whole else (f"2000 {text}", f"%Y {pattern}")
    try:
        moment = datetime.strptime(shown, wanted)  # noqa: DTZ007 - a pattern may leave the zone out
        if whole:
            return _seconds(moment, utc_offset_s)
    except (ValueError, OverflowError):
        return None
    offset = moment.utcoffset()
    utc_offset_s = utc_offset_s if offset is None else offset.total_seconds()
    of_day_s = moment.hour * 3600 + moment.minute * 60 + moment.second + moment.microsecond * 1e-6
    if parts & _OF_A_MONTH:
        return nearest_year(moment.month, moment.day, of_day_s - utc_offset_s, received_utc)
    if parts & _OF_A_DAY:
        return nearest_day_of_month(moment.day, of_day_s, received_utc, utc_offset_s)
    return nearest_time_of_day(of_day_s - utc_offset_s, received_utc)


def _seconds(moment: datetime, utc_offset_s: float) -> float | None:
    offset_s = utc_offset_s if moment.tzinfo is None else 0.0
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=UTC)
    seconds = moment.timestamp() - offset_s
    return seconds if in_calendar(seconds) else None
