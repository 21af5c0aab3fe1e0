"""Sentences and mails: a regular expression that finds the values by the words before them."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, Final

from groundstation.decoders.angles import read_angle
from groundstation.decoders.pattern import PatternSettings
from groundstation.decoders.text import NumberForm
from groundstation.jobs.guessing.times import guess_time

NAME: Final = "NAME"
FURTHEST: Final = 600
"""Characters between two values of a text; own choice."""
_GAP: Final = f".{{0,{FURTHEST}}}?"
_ANGLE: Final = (
    r"(?:[NSEWnsew]\s?[0-9]{1,3}\s[0-9]{1,2}\.[0-9]{2,}|[NSEWnsew]?\s?[+-]?[0-9]{1,3}(?:\s?[°º]\s?[0-9]{1,2}(?:[.,][0-9]+)?\s?['’′]"
    r"(?:\s?[0-9]{1,2}(?:[.,][0-9]+)?\s?(?:[\"”″]|''))?|[.,][0-9]{2,}\s?°?|\s[0-9]{1,2}\.[0-9]{2,}"
    r"\s?[NSEW]|[0-9]{1,2}\.[0-9]{2,}\s?[NSEW]))(?:\s?[NSEWnsew]\b)?"
)
_HEIGHT_LABELS: Final = r"(?:alt(?:itude)?|height|elev(?:ation)?|msl|h)\b"
_FIGURE: Final = r"[+-]?[0-9]{1,3}(?:[,' ][0-9]{3})+(?:\.[0-9]+)?|[+-]?[0-9]+(?:[.,][0-9]+)?"
_HEIGHT_UNIT: Final = r"(?:feet|ft|metres|meters|km|m)\b"
_TIMES: Final = (
    r"[0-9]{4}[-/][0-9]{2}[-/][0-9]{2}[T ][0-9]{2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]+)?)?"
    r"(?:\s?(?:Z|UTC|GMT|CEST|CET|EEST|EET|BST|EDT|EST|[+-][0-9]{2}:?[0-9]{2}))?",
    r"[0-9]{1,2}[./-](?:[0-9]{1,2}|[A-Z][a-z]{2})[./-][0-9]{2,4},?[ T](?:at )?[0-9]{1,2}:[0-9]{2}"
    r"(?::[0-9]{2})?(?:\s?[AP]M)?(?:\s?(?:Z|UTC|GMT|CEST|CET|EEST|EET|BST|EDT|EST))?",
    r"[0-9]{1,2} [A-Z][a-z]{2,8} [0-9]{2,4},? (?:at )?[0-9]{1,2}:[0-9]{2}(?::[0-9]{2})?"
    r"(?:\s?(?:Z|UTC|GMT|CEST|CET))?",
    r"[A-Z][a-z]{2} [A-Z][a-z]{2} [0-9 ]{2} [0-9]{2}:[0-9]{2}:[0-9]{2} [0-9]{4}",
    r"[A-Z][a-z]{2,8} [0-9]{1,2},? [0-9]{4},? (?:at )?[0-9]{1,2}:[0-9]{2}(?::[0-9]{2})?"
    r"(?:\s?[AP]M)?(?:\s?(?:Z|UTC|GMT))?",
    r"\b[0-9]{4}(?:Z|z| UTC)\b",
    r"\b[0-9]{2}:[0-9]{2}(?::[0-9]{2})?(?:\s?(?:Z|UTC|GMT|CEST|CET)\b)?",
)  # fmt: skip
_BARE: Final = (
    ("battery_v", r"\b[0-9]{1,2}\.[0-9]+\s?V\b"),
    ("temperature_c", r"[+-]?\b[0-9]{1,3}(?:\.[0-9]+)?\s?°\s?[CF]\b"),
)
"""Values that only their units tell."""

_TELEMETRY: Final = (
    ("battery_v", r"(?:batt?(?:ery)?|vbat|voltage|supply)\b", r"[0-9]+(?:[.,][0-9]+)?", r"m?V\b"),
    ("battery_percent", r"(?:batt?(?:ery)?)\b", r"[0-9]{1,3}", r"%"),
    ("temperature_c", r"(?:temp(?:erature)?|t)\b", r"[+-]?[0-9]+(?:[.,][0-9]+)?", r"°?\s?[CF]\b"),
    (
        "speed_ms",
        r"(?:speed|velocity|spd)\b",
        r"[0-9]+(?:[.,][0-9]+)?",
        r"(?:km/h|kmh|kph|kts|kt|knots|mph|m/s)",
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Guessed:
    """How the two angles are written, and which comes first; ``group`` matches either."""

    form: NumberForm
    unit: str
    first: str
    group: str


@dataclass(frozen=True, slots=True)
class _Piece:
    """A value in the text: what stands before it as a pattern, and its group."""

    begin: int
    end: int
    name: str
    group: str
    before: str = ""


def by_pattern(text: str, now_utc: float) -> Iterator[tuple[PatternSettings, tuple[str, ...]]]:
    """A pattern for the text, or nothing where no position is found in it."""
    place = _place(text)
    if place is None:
        return
    first_span, other, how = place
    numbers, second = how.form, "lon" if how.first == "lat" else "lat"
    doubts: list[str] = []
    pieces = [
        _Piece(*first_span, how.first, how.group), _Piece(*other, second, how.group)
    ]  # fmt: skip
    taken = [first_span, other]
    more: dict[str, Any] = {"numbers": numbers}
    if how.unit != "deg":
        more["units"] = {"lat": how.unit, "lon": how.unit}
    for pattern in _TIMES:
        for found in re.finditer(pattern, text):
            if _free(found.span(), taken) and (guess := guess_time(found[0], now_utc)) is not None:
                if guess.doubt:
                    doubts.append(guess.doubt)
                more |= {"time_format": guess.time_format, "utc_offset_s": guess.utc_offset_s}
                pieces.append(_Piece(*found.span(), "time", pattern))
                taken.append(found.span())
                break
        else:
            continue
        break
    height = _height(text, taken)
    if height is not None:
        span, figure, unit = height
        # With a unit here, a number without one there would be something else.
        form = f"(?:{_FIGURE})\\s?{_HEIGHT_UNIT}" if unit else f"(?:{_FIGURE})"
        pieces.append(_Piece(*span, "alt_m", form))
        taken.append(span)
        if "," in figure and numbers is NumberForm.POINT:
            more["numbers"] = NumberForm.POINT_GROUPED
        if not unit:
            doubts.append("the height is taken as metres")
    for name, label, figure_form, unit_form in _TELEMETRY:
        whole = re.compile(rf"({label})[\s:=]{{0,3}}(?:is\s)?({figure_form}\s?{unit_form})", re.I)
        found_value = whole.search(text)
        if found_value is not None and _free(found_value.span(2), taken):
            group = f"(?:{figure_form})\\s?(?:{unit_form})"
            pieces.append(_Piece(*found_value.span(2), name, group))
            taken.append(found_value.span(2))
    for name, form in _BARE:
        if all(piece.name != name for piece in pieces):
            bare = next(
                (match for match in re.finditer(form, text) if _free(match.span(), taken)), None
            )
            if bare is not None:
                pieces.append(_Piece(*bare.span(), name, form))
                taken.append(bare.span())
    tracker = re.search(r"(?m)^\W{0,4}((?=[A-Z]*[0-9])[A-Z0-9]{3,9}-[0-9]{1,2})\b", text)
    tracker = tracker or re.search(
        r"\b(?:tracker|callsign|call|device|unit|from|imei|id)\b\s?[:=#]?\s?([A-Z0-9][A-Z0-9_-]{2,20})\b",
        text, re.IGNORECASE,
    )  # fmt: skip
    if tracker is not None and re.search("[0-9]", tracker[1]) and _free(tracker.span(1), taken):
        form = r"[A-Z0-9]{3,9}-[0-9]{1,2}" if "-" in tracker[1] else r"[A-Za-z0-9_-]+"
        pieces.append(_Piece(*tracker.span(1), "tracker", form))
    pieces.sort(key=lambda part: part.begin)
    ends = [0, *(part.end for part in pieces)]
    pieces = [
        replace(part, before=_before(text, end, part.begin))
        for part, end in zip(pieces, ends, strict=False)
    ]
    named = {part.name for part in pieces}
    yield (
        PatternSettings(
            pattern=_joined(pieces), tracker="" if "tracker" in named else NAME, **more
        ),
        tuple(doubts),
    )


def _joined(pieces: list[_Piece]) -> str:
    """Each value by what stands before it, in the order of the text; all but the place may be
    missing.

    A gap is bounded: what stands further off belongs to something else.
    """
    place = [at for at, piece in enumerate(pieces) if piece.name in ("lat", "lon")]
    parts = ["(?is)"]
    for at, piece in enumerate(pieces):
        core = f"{piece.before}(?P<{piece.name}>{piece.group})"
        if at < place[0]:
            parts.append(f"(?:{core}{_GAP})?")
        elif at == place[0]:
            parts.append(core)
        else:
            reached = f"{_GAP}{core}"
            parts.append(reached if at == place[1] else f"(?:{reached})?")
    return "".join(parts)


def _before(text: str, floor: int, begin: int) -> str:
    """The word before a value, as a pattern; none that belongs to the value before it."""
    line = text[max(floor, begin - 40) : begin].rpartition("\n")[2]
    word = re.search(r"([^\W\d_]{1,20}[\s:=~(\[@#.\"']{0,4})$", line)
    if word is None:
        return ""
    before = "".join(
        r"\s*" if part.isspace() else re.escape(part)
        for part in re.split(r"(\s+)", word[1])
        if part
    )
    # RE2 knows letters of English alone.
    return rf"\b{before}" if before[:1].isascii() else before


def _free(span: tuple[int, int], taken: list[tuple[int, int]]) -> bool:
    return all(span[1] <= begin or end <= span[0] for begin, end in taken)


_LABELLED: Final = re.compile(
    r"\blat[a-z]*\W{0,4}(?P<lat>[+-]?[0-9]{1,3}[.,][0-9]+)(?![0-9.,]*[NSEW0-9'°])"
    r".{0,20}?\blon[a-z]*\W{0,4}(?P<lon>[+-]?[0-9]{1,3}[.,][0-9]+)(?![0-9.,]*[NSEW0-9'°])",
    re.IGNORECASE | re.DOTALL,
)


_JOINED: Final = re.compile(
    r"(?<![0-9.,])(?P<lat>[+-]?[0-9]{1,2}\.[0-9]{3,}),\s?(?P<lon>[+-]?[0-9]{1,3}\.[0-9]{3,})(?![0-9.,])"
)
"""As links to maps have them."""


def _place(text: str) -> tuple[tuple[int, int], tuple[int, int], Guessed] | None:
    """Where the two angles stand, and how they are written."""
    labelled = _LABELLED.search(text)
    if labelled is not None:
        comma = "," in labelled["lat"]
        form = NumberForm.COMMA if comma else NumberForm.POINT
        guessed = Guessed(form=form, unit="deg", first="lat", group=r"[+-]?[0-9]{1,3}[.,][0-9]+")
        if _angle(labelled["lat"], "lat", form) and _angle(labelled["lon"], "lon", form):
            return labelled.span("lat"), labelled.span("lon"), guessed
    joined = _JOINED.search(text)
    if joined is not None and abs(float(joined["lon"])) <= 180.0:
        group = r"[+-]?[0-9]{1,3}\.[0-9]{3,}"
        guessed = Guessed(form=NumberForm.POINT, unit="deg", first="lat", group=group)
        if _angle(joined["lat"], "lat", NumberForm.POINT):
            return joined.span("lat"), joined.span("lon"), guessed
    angles = list(re.finditer(rf"(?<![0-9.,A-Za-z+-])(?:{_ANGLE})(?![0-9])", text))
    for first, second in pairwise(angles):
        if second.start() - first.end() > 40:
            continue
        for form in (NumberForm.POINT, NumberForm.COMMA):
            for order in ("lat", "lon"):
                other = "lon" if order == "lat" else "lat"
                said = text[max(0, first.start() - 16) : first.start()].lower()
                if order == "lat" and re.search(r"lon[a-z]*[\s:=]*$", said):
                    continue
                a = _angle(first[0], order, form)
                b = _angle(second[0], other, form)
                if a and a == b:
                    guessed = Guessed(form=form, unit=a, first=order, group=_ANGLE)
                    return first.span(), second.span(), guessed
    return None


def _angle(text: str, axis: str, form: NumberForm) -> str:
    """The unit in which the text is an angle, or ""."""
    unit = "ddmm" if re.search(r"(?<![0-9])[0-9]{4,5}\.", text) else "deg"
    read = read_angle(text, axis, unit, form)
    limit = 90.0 if axis == "lat" else 180.0
    return unit if read is not None and abs(read.degrees) <= limit else ""


def _height(text: str, taken: list[tuple[int, int]]) -> tuple[tuple[int, int], str, str] | None:
    labelled = rf"{_HEIGHT_LABELS}[^0-9\n+-]{{0,12}}?({_FIGURE})(?:\s?({_HEIGHT_UNIT}))?"
    for pattern in (labelled, rf"(?<![0-9.,])({_FIGURE})\s?({_HEIGHT_UNIT})(?!/)"):
        for found in re.finditer(pattern, text, re.IGNORECASE):
            if _free(found.span(1), taken):
                return (found.start(1), found.end()), found[1], found[2] or ""
    return None
