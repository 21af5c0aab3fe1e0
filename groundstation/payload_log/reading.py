"""Reading a payload's log: a table, by the person's own map of its columns."""

import csv
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.decoders.quantities import conversion
from groundstation.decoders.text import number
from groundstation.decoders.time_formats import TimeFormat, read_time
from groundstation.decoders.timestamps import clock_text
from groundstation.errors import ConfigurationError, InputFileError
from groundstation.language.catalogue import _
from groundstation.language.numbers import number as written
from groundstation.payload_log.settings import DateOrder, LogSettings, LogTime
from groundstation.settings.builder import read_settings

Array = NDArray[np.float64]

LEAST_ROWS: Final = 20  # own choice: fewer are no log of a flight
MOST_ROWS: Final = 500_000  # own choice: a day, six a second
HALF_DAY_S: Final = 43_200.0  # a step back by more is midnight
_PER_DAY_S: Final = 86_400.0  # seconds of a day


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorLog:
    """Rows in order of ``time_s`` (rows,), by the log's own clock, whatever it counts from.

    ``values`` holds a column of shape (rows,) for each name, NaN where nothing readable stood, in
    the unit in the name. ``notes`` say what was left out.
    """

    time_s: Array
    values: Mapping[str, Array]
    notes: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.time_s)


def read_log_settings(path: Path) -> LogSettings:
    """Raises ``ConfigurationError`` with all that is wrong, one a line."""
    return read_settings(path, LogSettings, "the map of columns")


def read_log(path: Path, settings: LogSettings) -> SensorLog:
    """Read the table. Raises ``ConfigurationError`` for a map that can't work and
    ``InputFileError`` for a file that it does not fit."""
    names, converts = _checked(settings)
    try:
        text = path.read_text(encoding="utf-8-sig", errors="replace")
    except OSError as error:
        raise InputFileError(f"cannot read the log {path}: {error.strerror}") from error
    lines = text.replace("\x00", "").splitlines()[settings.skip :]
    rows = csv.reader(lines, delimiter=settings.separator)
    at = _places(path, settings, rows)
    table: list[list[float]] = []
    unread = 0
    try:
        for row in rows:
            values = _row(row, names, at, converts, settings)
            if values is None:
                unread += 1
            else:
                table.append(values)
            if len(table) > MOST_ROWS:
                raise InputFileError(f"{path} has more than {MOST_ROWS:,} rows; cut it")
    except csv.Error as error:
        raise InputFileError(f"{path}, line {settings.skip + rows.line_num}: {error}") from error
    notes = []
    if unread:
        notes.append(_("{rows} rows without a readable time are left out", rows=written(unread)))
    if len(table) < LEAST_ROWS:
        raise InputFileError(
            f"{path} has {len(table)} rows with a readable time; at least {LEAST_ROWS} are needed."
            " Look at separator, skip and time_format in the map of columns"
        )
    undated = settings.time_format is LogTime.HMS and "date" not in settings.columns
    return _ordered(np.array(table, dtype=float), names, notes, undated=undated)


def _checked(settings: LogSettings) -> tuple[list[str], list[Callable[[float], float]]]:
    names = [name for name in settings.columns if name not in ("time", "date")]
    if "time" not in settings.columns:
        raise ConfigurationError("columns does not say which one is the time")
    if not {"pressure_hpa", "altitude_m"} & set(names):
        raise ConfigurationError(
            "columns names neither pressure_hpa nor altitude_m; without one of them the log can't"
            " be laid beside the flight"
        )
    if "date" in settings.columns and settings.time_format is not LogTime.HMS:
        raise ConfigurationError("columns names a date, which goes with time_format = 'hms' only")
    if ("lat" in names) != ("lon" in names):
        raise ConfigurationError("columns names only one of lat and lon")
    if len(settings.separator) != 1:
        raise ConfigurationError("separator must be one character, such as ',' or '\\t'")
    wrong = sorted(set(settings.units) - set(names))
    if wrong:
        raise ConfigurationError(f"units has {', '.join(wrong)}, which columns does not name")
    return names, [conversion(name, settings.units.get(name, "")) for name in names]


def _places(path: Path, settings: LogSettings, rows: Iterator[list[str]]) -> dict[str, int]:
    if not settings.header:
        at = {}
        for name, column in settings.columns.items():
            if not column.isascii() or not column.isdigit() or int(column) < 1:
                raise ConfigurationError(
                    f"columns: {name} = {column!r} must be a number from 1, as header is false"
                )
            at[name] = int(column) - 1
        return at
    try:
        heads = [head.strip() for head in next(rows, [])]
    except csv.Error as error:
        raise InputFileError(f"{path}: {error}") from error
    missing = [column for column in settings.columns.values() if column not in heads]
    if missing:
        raise InputFileError(
            f"{path}: no column is called {', '.join(map(repr, missing))}; there are"
            f" {', '.join(map(repr, heads[:20]))}"
        )
    return {name: heads.index(column) for name, column in settings.columns.items()}


def _row(
    row: Sequence[str], names: Sequence[str], at: Mapping[str, int],
    converts: Sequence[Callable[[float], float]], settings: LogSettings,
) -> list[float] | None:  # fmt: skip
    def cell(name: str) -> str:
        return row[at[name]].strip() if at[name] < len(row) else ""

    time_s = _time(cell("time"), settings.time_format)
    if time_s is not None and "date" in at:
        day_s = _day(cell("date"), settings.date_order)
        time_s = None if day_s is None else day_s + time_s
    if time_s is None:
        return None
    values = [time_s]
    for name, convert in zip(names, converts, strict=True):
        value = number(cell(name))
        values.append(np.nan if value is None else convert(value))
    return values


def _time(text: str, time_format: LogTime) -> float | None:
    match time_format:
        case LogTime.SECONDS:
            return number(text)
        case LogTime.MILLISECONDS:
            count = number(text)
            return None if count is None else count / 1_000.0
        case LogTime.HMS:
            # The day is not known, and need not be: the flight tells it.
            return clock_text(text)
        case _:
            return read_time(text, TimeFormat(time_format.value), 0.0)


def _day(text: str, order: DateOrder) -> float | None:
    """Its midnight in UTC, in seconds since 1970; a year of two digits is of this century."""
    parts = re.findall(r"[0-9]+", text)
    if len(parts) == 1 and len(parts[0]) in (6, 8):
        year = len(parts[0]) - 4
        widths = [year if part == "y" else 2 for part in order.value]
        ends = np.cumsum(widths)
        parts = [parts[0][end - width : end] for end, width in zip(ends, widths, strict=True)]
    if len(parts) != 3:
        return None
    number_of = dict(zip(order.value, map(int, parts), strict=True))
    year = number_of["y"] + (2000 if number_of["y"] < 100 else 0)
    try:
        return datetime(year, number_of["m"], number_of["d"], tzinfo=UTC).timestamp()
    except (ValueError, OverflowError):
        return None


def _ordered(table: Array, names: Sequence[str], notes: list[str], *, undated: bool) -> SensorLog:
    if undated:
        over = np.concatenate([[0.0], np.cumsum(np.diff(table[:, 0]) < -HALF_DAY_S)])
        table[:, 0] += _PER_DAY_S * over
    # Where the clock goes back it was switched off and on again, or the file was begun anew.
    begins = [0, *(np.nonzero(np.diff(table[:, 0]) < 0.0)[0] + 1).tolist(), len(table)]
    longest = max(range(len(begins) - 1), key=lambda n: begins[n + 1] - begins[n])
    kept = table[begins[longest] : begins[longest + 1]]
    if len(kept) < len(table):
        notes.append(
            _(
                "its clock goes back {times} times; the longest piece, {kept} of {rows} rows, is"
                " used",
                times=len(begins) - 2,
                kept=written(len(kept)),
                rows=written(len(table)),
            )
        )
    _rows, once = np.unique(kept[:, 0], return_index=True)
    kept = kept[once]
    return SensorLog(
        time_s=kept[:, 0],
        values={name: kept[:, n] for n, name in enumerate(names, 1)},
        notes=tuple(notes),
    )
