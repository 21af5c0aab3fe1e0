"""Delimited lines: what each column holds, found by its content."""

import re
from collections.abc import Iterator
from typing import Any, Final

from groundstation.decoders.angles import read_angle
from groundstation.decoders.checksums import crc16_ccitt_false, nmea_xor
from groundstation.decoders.delimited import Checksum, DelimitedSettings
from groundstation.decoders.text import NumberForm
from groundstation.jobs.guessing.names import Leaf, assign
from groundstation.jobs.guessing.times import TimeGuess, guess_time

NAME: Final = "NAME"
_SUM: Final = re.compile(r"(.*)\*([0-9A-Fa-f]{2}|[0-9A-Fa-f]{4})\s*$", re.DOTALL)
_FINE: Final = re.compile(r"[+-]?[0-9]{1,3}\.[0-9]{3,}")
_FINE_COMMA: Final = re.compile(r"[+-]?[0-9]{1,3},[0-9]{3,}")
_SCALED: Final = re.compile(r"[+-]?[0-9]{7,10}")
_MINUTES: Final = re.compile(r"[+-]?[0-9]{3,5}\.[0-9]{2,}")
_ANGLED: Final = re.compile(
    r"(?:[NSEW]\s*[0-9]{1,3}(?:\s+[0-9]{1,2})?[.,][0-9]+|[0-9]{1,3}\s+[0-9]{1,2}\.[0-9]+\s*[NSEW]|[0-9]{1,5}[.,][0-9]+\s*°?\s*[NSEW]"
    r"|[NSEW]?\s*[0-9]{1,3}[°º:][^,;]*[0-9]['′\"″]?\s*[NSEW]?)",
    re.IGNORECASE,
)
_WHOLE: Final = re.compile(r"[+-]?[0-9]{1,6}(?:[.,][0-9]+)?")
_WITH_UNIT: Final = re.compile(r"([+-]?[0-9][0-9.,]*)\s*(m|ft|feet|metres|meters|km)\.?", re.I)
_CALL: Final = re.compile(
    r"(?=[A-Za-z0-9-]*[0-9])(?=[A-Za-z0-9-]*[A-Za-z])[A-Za-z0-9]{3,9}(-[A-Za-z0-9]{1,2})?"
)
_CALL_ANYWHERE: Final = re.compile(r"(?=[A-Z0-9-]*[0-9])[A-Z][A-Z0-9]{2,8}(-[A-Z0-9]{1,2})?")
_DATE: Final = re.compile(r"[0-9]{2,4}[-/. ]?([0-9]{2}|[A-Za-z]{3})[-/. ]?[0-9]{2}")
_CLOCK: Final = re.compile(r"[0-9]{2}:?[0-9]{2}(:?[0-9]{2}(\.[0-9]+)?)?( ?[AP]M)?")
_OF_DAY: Final = re.compile(r"[0-9]{2}:[0-9]{2}(:[0-9]{2}(\.[0-9]+)?)?Z?|[0-9]{6}(\.[0-9]+)?")
NEAR_S: Final = 30 * 86_400.0  # own choice: seconds of this month are a time, not an angle
_WORD: Final = re.compile(r"[A-Za-z]{2,}:?")
_ID: Final = re.compile(r"[A-Za-z][A-Za-z0-9_-]{2,20}|[0-9]{15}")
_VOLTS: Final = re.compile(r"([0-9]{1,2}\.[0-9]+)\s*[Vv]")
_DEGREES: Final = re.compile(r"([+-]?[0-9]{1,3}(?:\.[0-9]+)?)\s*°?\s*[CF]")


def checksum_of(text: str) -> tuple[Checksum, int]:
    """Which checksum a line ends with, and from which character on it is made."""
    found = _SUM.fullmatch(text)
    if found is None:
        return Checksum.NONE, 0
    body, sent = found[1], int(found[2], 16)
    # What the values begin with goes first: of "$$" and "" the exclusive or is the same.
    marks = len(body) - len(body.lstrip("$>!#@*:% "))
    for start in sorted(range(min(len(body), 12)), key=lambda at: (at != marks, at)):
        piece = body[start:].encode()
        if len(found[2]) == 4 and crc16_ccitt_false(piece) == sent:
            return Checksum.CRC16, start
        if len(found[2]) == 2 and nmea_xor(piece) == sent:
            return Checksum.XOR, start
    return Checksum.NONE, 0


def by_columns(text: str, now_utc: float) -> Iterator[tuple[DelimitedSettings, tuple[str, ...]]]:
    """Settings for a delimited line, the likeliest first."""
    if (headed := _headed(text, now_utc)) is not None:
        yield headed
        return
    line = text.splitlines()[0].strip() if text else ""
    checksum, begin = checksum_of(line)
    if checksum is Checksum.NONE and _SUM.fullmatch(line):
        # Damaged, or with a checksum of a kind that is not known: neither is to be believed.
        return
    body, start = line, ""
    if checksum is not Checksum.NONE:
        start = line[:begin]
        body = line[begin:].rpartition("*")[0]
    elif found := re.match(r"(?:[$>!#@]{1,4}|[A-Za-z]{1,8}:\s+)(?=[A-Za-z0-9+-])", line):
        start = found[0]
        body = line[found.end() :]
    for separator in (";", ",", "\t", "|", " "):
        cells = [cell.strip() for cell in body.split(separator)]
        if len(cells) < 2:
            continue
        if separator == " " and any(_WORD.fullmatch(cell) for cell in cells[1:]):
            # A sentence, whose words are no columns.
            continue
        guess = _columns(cells, separator, now_utc)
        if guess is None:
            continue
        names, more, doubts = guess
        while names and not names[-1]:
            names.pop()
        tracker = "" if "tracker" in names else NAME
        yield (
            DelimitedSettings(
                columns=tuple(names),
                separator=separator,
                start=start.strip() if start.strip() and body != line else "",
                checksum=checksum,
                tracker=tracker,
                **more,
            ),
            doubts,
        )


def _headed(text: str, now_utc: float) -> tuple[DelimitedSettings, tuple[str, ...]] | None:
    """Settings for a table whose first line names its columns."""
    lines = [line for line in text.splitlines() if line.strip()][:2]
    if len(lines) < 2 or re.search(r"[0-9]\.[0-9]", lines[0]):
        return None
    for separator in (";", ",", "\t", "|"):
        names = [name.strip().strip('"') for name in lines[0].split(separator)]
        cells = [cell.strip().strip('"') for cell in lines[1].split(separator)]
        if len(names) < 2 or len(names) != len(cells) or len({*names}) < len(names):
            continue
        guess = assign([Leaf((n,), c) for n, c in zip(names, cells, strict=True)], now_utc)
        if guess is None or any(len(place) > 1 for place in guess.places.values()):
            continue
        ours = {place[0]: name for name, place in guess.places.items()}
        columns = [ours.get(name, "") for name in names]
        while not columns[-1]:
            columns.pop()
        settings = DelimitedSettings(
            columns=tuple(columns), separator=separator, numbers=guess.numbers, units=guess.units,
            time_format=guess.time_format, utc_offset_s=guess.utc_offset_s,
            tracker="" if "tracker" in guess.places else NAME,
        )  # fmt: skip
        return settings, tuple(guess.doubts)
    return None


def _columns(
    cells: list[str], separator: str, now_utc: float
) -> tuple[list[str], dict[str, Any], tuple[str, ...]] | None:
    place = _place(cells, separator, now_utc)
    if place is None:
        return None
    lat, lon, unit, form = place
    names = ["" for _ in cells]
    names[lat], names[lon] = "lat", "lon"
    doubts: list[str] = []
    units = {} if unit == "deg" else {"lat": unit, "lon": unit}
    if not any(re.search("[NSEWnsew]", cells[column]) for column in (lat, lon)) and lat < lon:
        second = read_angle(cells[lon], "lat", unit, form)
        if second is not None and abs(second.degrees) <= 90.0:
            doubts.append("the latitude is taken to stand before the longitude")
    for at, side, letters in ((lat, "lat_side", "NS"), (lon, "lon_side", "EW")):
        beside = [
            column for column in (at + 1, at - 1) if 0 <= column < len(cells) and not names[column]
        ]
        for column in beside:
            if cells[column].upper() in tuple(letters):
                names[column] = side
                break
    time = _time(cells, names, now_utc)
    _height(cells, names, max(lat, lon), doubts)
    _tracker(cells, names)
    _telemetry(cells, names)
    more: dict[str, Any] = {"units": units, "numbers": form}
    if time is not None:
        more |= {"time_format": time.time_format, "utc_offset_s": time.utc_offset_s}
        if time.doubt:
            doubts.append(time.doubt)
    return names, more, tuple(doubts)


def _place(
    cells: list[str], separator: str, now_utc: float
) -> tuple[int, int, str, NumberForm] | None:
    """Where latitude and longitude are, their unit, and how numbers are written."""
    forms = [NumberForm.POINT] if separator == "," else [NumberForm.POINT, NumberForm.COMMA]
    for form in forms:
        fine = _FINE if form is NumberForm.POINT else _FINE_COMMA
        for shape, unit in (
            (_ANGLED, "deg"), (fine, "deg"), (_MINUTES, "ddmm"), (_SCALED, "1e-7 deg"),
        ):  # fmt: skip
            # A time of day with colons looks like an angle.
            at = [
                n
                for n, cell in enumerate(cells)
                if shape.fullmatch(cell) and not (":" in cell and _OF_DAY.fullmatch(cell))
            ]
            if shape is _SCALED:
                # Seconds since 1970 look the same.
                at = [n for n in at if abs(float(cells[n]) - now_utc) > NEAR_S]
            for first in at:
                for second in (first + 1, first + 2, first + 3):
                    if second not in at:
                        continue
                    between = cells[first + 1 : second]
                    if second - first > 1 and not all(_side(cell) for cell in between):
                        continue
                    found = _ordered(cells, first, second, unit, form)
                    if found is not None:
                        return found
    return None


def _side(cell: str) -> bool:
    return cell.upper() in ("N", "S", "E", "W")


def _ordered(
    cells: list[str], first: int, second: int, unit: str, form: NumberForm
) -> tuple[int, int, str, NumberForm] | None:
    units = ("ddmm",) if unit == "ddmm" else (unit,)
    if unit == "deg" and any(
        re.search(r"[0-9]{4,5}[.,]", cells[column]) for column in (first, second)
    ):
        units = ("ddmm",)
    for angle_unit in units:
        for lat, lon in ((first, second), (second, first)):
            a = read_angle(cells[lat], "lat", angle_unit, form)
            b = read_angle(cells[lon], "lon", angle_unit, form)
            if a is None or b is None or abs(a.degrees) > 90.0 or abs(b.degrees) > 180.0:
                continue
            return lat, lon, angle_unit, form
    return None


def _time(cells: list[str], names: list[str], now_utc: float) -> TimeGuess | None:
    pairs = [(at, at + 1) for at in range(len(cells) - 1) if not names[at] and not names[at + 1]]
    for first, second in pairs:
        for date, clock in ((first, second), (second, first)):
            if not _DATE.search(cells[date]):
                continue
            if not _CLOCK.fullmatch(cells[clock]):
                continue
            found = guess_time(f"{cells[date]} {cells[clock]}", now_utc)
            if found is not None:
                names[date], names[clock] = "date", "time"
                return found
    # What is whole goes before a time of day alone.
    for least in (9, 5):
        for at, cell in enumerate(cells):
            if names[at] or len(cell) < least or not cell[:1].isalnum():
                continue
            if least == 5 and not _OF_DAY.fullmatch(cell):
                continue
            found = guess_time(cell, now_utc)
            if found is not None:
                names[at] = "time"
                return found
    return None


def _height(cells: list[str], names: list[str], last: int, doubts: list[str]) -> None:
    for at, cell in enumerate(cells):
        if not names[at] and _WITH_UNIT.fullmatch(cell):
            names[at] = "alt_m"
            return
    for at in range(last + 1, min(last + 3, len(cells))):
        if not names[at] and _WHOLE.fullmatch(cells[at]):
            names[at] = "alt_m"
            doubts.append(f"column {at + 1} is taken as the height in metres; set units if not")
            return
        if not names[at] and not _side(cells[at]):
            return


def _tracker(cells: list[str], names: list[str]) -> None:
    for shape, room in ((_CALL, 4), (_ID, 4), (_CALL_ANYWHERE, len(cells))):
        for at, cell in enumerate(cells):
            if not names[at] and shape.fullmatch(cell) and at < room:
                names[at] = "tracker"
                return


def _telemetry(cells: list[str], names: list[str]) -> None:
    for shape, name in ((_VOLTS, "battery_v"), (_DEGREES, "temperature_c")):
        for at, cell in enumerate(cells):
            if not names[at] and name not in names and shape.fullmatch(cell):
                names[at] = name
