"""In which format a time is written."""

import functools
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import product
from typing import Final

from groundstation.decoders.time_formats import read_time

DATES: Final = (
    "%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d", "%Y.%m.%d.", "%Y. %m. %d.", "%Y%m%d", "%d/%m/%Y",
    "%d.%m.%Y", "%d-%m-%Y", "%m/%d/%Y", "%m-%d-%Y", "%y-%m-%d", "%y/%m/%d", "%d/%m/%y",
    "%d.%m.%y", "%d-%m-%y", "%m/%d/%y", "%d %b %Y", "%d-%b-%Y", "%d %B %Y", "%b %d %Y",
    "%b %d, %Y", "%B %d, %Y", "%d %b %y", "%d-%b-%y", "%a %b %d %Y", "%d%m%y", "%y%m%d",
    "%d%b%Y", "%d%b%y",
)  # fmt: skip
CLOCKS: Final = (
    "%H:%M:%S", "%H:%M:%S.%f", "%H:%M", "%H%M%S", "%H%M%S.%f", "%H%M", "%H.%M.%S",
    "%I:%M:%S %p", "%I:%M:%S%p", "%I:%M %p", "%I:%M%p", "%H-%M-%S", "%Hh%M", "%Hh%Mm%Ss",
)  # fmt: skip
JOINS: Final = (" ", "T", ", ", " at ", "-", "_", ",", "  ")
ENDS: Final = ("", "Z", " Z", " UTC", " GMT", "UTC", "z", " UT", "%z", " %z", " (UTC)")
ZONES_H: Final = {
    "CET": 1, "CEST": 2, "MEZ": 1, "MESZ": 2, "EET": 2, "EEST": 3, "WET": 0, "WEST": 1, "BST": 1,
    "MSK": 3, "EST": -5, "EDT": -4, "CDT": -5, "MST": -7, "MDT": -6, "PST": -8, "PDT": -7,
    "JST": 9, "AEST": 10, "AEDT": 11,
}  # fmt: skip
"""How far zones are ahead of UTC, of names that mean one thing only. Common practice."""

NEAR_S: Final = 3 * 86_400.0  # own choice: a message that is asked about is a few days old
_ZONE: Final = re.compile(rf"\s*\b({'|'.join(ZONES_H)})\b\.?$")
_SAMPLE: Final = datetime(2026, 11, 27, 10, 38, 59, 123456, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class TimeGuess:
    """``doubt`` is what a person should look at, or ""."""

    time_format: str
    utc_offset_s: float = 0.0
    doubt: str = ""


def guess_time(text: str, now_utc: float) -> TimeGuess | None:
    """The format in which ``text`` is a time, or None. Of two that fit, the one nearer to now."""
    text = text.strip()
    zone = _ZONE.search(text)
    if zone is not None:
        inner = guess_time(text[: zone.start()], now_utc)
        if inner is None:
            return None
        pattern = _as_pattern(inner.time_format, text[: zone.start()])
        if pattern is None:
            return None
        return TimeGuess(f"{pattern}{zone[0]}", 3600.0 * ZONES_H[zone[1]], inner.doubt)
    fitting = [
        (name, moment)
        for name in _named(text)
        if (moment := read_time(text, name, now_utc)) is not None and moment > 946_684_800.0
    ]
    if not fitting:
        return None
    near = [candidate for candidate in fitting if abs(candidate[1] - now_utc) < NEAR_S]
    name, moment = near[0] if near else fitting[0]
    others = sorted({form for form, other in fitting if abs(other - moment) > 1.0})
    doubt = ""
    if others and not (near and len({round(other) for _, other in near}) == 1):
        doubt = f"the time could also be read by {', '.join(repr(form) for form in others[:3])}"
    return TimeGuess(name, 0.0, doubt)


def _named(text: str) -> Iterator[str]:
    """Formats worth a try, best first."""
    if re.fullmatch(r"[0-9]+(\.[0-9]+)?", text):
        whole = text.partition(".")[0]
        match len(whole):
            case 9 | 10:
                yield "unix"
            case 13:
                yield "unix-ms"
            case 16:
                yield "unix-us"
            case 12 if "." not in text:
                yield from ("yymmddhhmmss", "ddmmyyhhmmss")
            case 14:
                yield "%Y%m%d%H%M%S"
            case 6:
                yield "hms"
            case 4 if "." not in text:
                yield "hm"
        return
    if re.fullmatch(r"[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]+)?", text):
        yield "hms"
        return
    if re.fullmatch(r"[0-9]{2}:[0-9]{2}", text):
        yield "hm"
        return
    yield "iso"
    if re.match(r"[A-Z][a-z]{2},? ", text):
        yield from ("ctime", "rfc2822")
    yield from _patterns().get(_skeleton(text), ())
    if re.search(r"[+-][0-9]{4}$", text):
        yield "rfc2822"


def _as_pattern(time_format: str, text: str) -> str | None:
    """A pattern that a zone can be written after."""
    if "%" in time_format:
        return time_format
    return next(
        (pattern for pattern in _patterns().get(_skeleton(text), ()) if "%z" not in pattern), None
    )


def _skeleton(text: str) -> str:
    """The text with digits and letters told only by their kinds."""
    short = re.sub(r"[+-][0-9]{2}:?[0-9]{2}$", "Z9", text) if len(text) > 12 else text
    return re.sub(r"[A-Za-z]+", "a", re.sub(r"[0-9]+", "9", short))


@functools.cache
def _patterns() -> dict[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {}
    for date, join, clock, end in product(DATES, JOINS, CLOCKS, ENDS):
        for whole in (f"{date}{join}{clock}{end}", f"{clock}{end}{join}{date}"):
            found.setdefault(_skeleton(_SAMPLE.strftime(whole)), []).append(whole)
    for clock, end in product(CLOCKS, ENDS):
        whole = f"{clock}{end}"
        found.setdefault(_skeleton(_SAMPLE.strftime(whole)), []).append(whole)
    return {skeleton: tuple(dict.fromkeys(every)) for skeleton, every in found.items()}
