"""Winds aloft from a file: a table, or radiosonde soundings in the IGRA v2 text format.

A table is CSV with the columns ``height_m`` (above mean sea level), ``wind_from_deg`` (true) and
``wind_speed_ms``, in any order and beside any others; a column ``time`` (ISO 8601) tells when it
was measured. A forecast of several hours and places has ``valid``, ``lat`` and ``lon``, and
``issued``, when it was made; from an ensemble also ``spread_ms``.
IGRA v2 is described by NOAA ("igra2-data-format.txt"): a header line a sounding, then a line a
level, with geopotential height in metres, direction in degrees and speed in tenths of m/s.
"""

import csv
import math
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.errors import InputFileError
from groundstation.weather.forecast_json import read_forecast
from groundstation.weather.wind_table import EARTH_M, FASTEST_MS, Place, WindTable

Array = NDArray[np.float64]

NEEDED: Final = ("height_m", "wind_from_deg", "wind_speed_ms")
_MISSING: Final = (-9999, -8888)  # igra2-data-format.txt: missing, and removed by quality checks


def read_winds(path: Path, near_utc: float | None = None) -> WindTable:
    """Read a file; of several soundings the one nearest to ``near_utc``, else the last.

    Raises ``InputFileError`` naming the line.
    """
    tables = read_all_winds(path)
    if near_utc is None:
        return tables[-1]
    return min(tables, key=lambda table: abs((table.time_utc or math.inf) - near_utc))


def read_all_winds(path: Path) -> list[WindTable]:
    """Every sounding of a file, or its one table. Raises ``InputFileError`` naming the line."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise InputFileError(f"cannot read the winds in {path}: {error}") from error
    if text.lstrip().startswith("{"):
        tables = read_forecast(text, str(path))
    else:
        tables = _igra(text) if text.startswith("#") else _tables(path, text)
    tables = [table for table in tables if len(table.height_m) >= 2]
    if not tables:
        raise InputFileError(f"{path} holds no winds at two heights or more")
    return tables


def _tables(path: Path, text: str) -> list[WindTable]:
    """One table, or where there is a column ``valid`` one for each of its times."""
    reader = csv.DictReader(text.splitlines())
    missing = [name for name in NEEDED if name not in (reader.fieldnames or ())]
    if missing:
        raise InputFileError(f"{path}, line 1: no column {', '.join(missing)}")
    rows: dict[tuple[float | None, Place | None], list[tuple[float, float, float]]] = {}
    times = []
    issued_utc: float | None = None
    spreads: dict[tuple[float | None, Place | None], float] = {}
    for row in reader:
        if any(not (row[name] or "").strip() for name in NEEDED):
            continue
        try:
            height, direction, speed = (float(row[name]) for name in NEEDED)
            valid_utc = _utc(row["valid"]) if row.get("valid") else None
            place = (float(row["lat"]), float(row["lon"])) if row.get("lat") else None
            if row.get("time"):
                times.append(_utc(row["time"]))
            if row.get("issued"):
                issued_utc = max(_utc(row["issued"]), issued_utc or -math.inf)
            spread_ms = float(row["spread_ms"]) if row.get("spread_ms") else None
        except ValueError as error:
            raise InputFileError(f"{path}, line {reader.line_num}: {error}") from error
        if not (math.isfinite(height) and 0.0 <= speed <= FASTEST_MS and abs(direction) <= 360.0):
            raise InputFileError(
                f"{path}, line {reader.line_num}: {speed:g} m/s from {direction:g} degrees at"
                f" {height:g} m can't be"
            )
        if valid_utc is None:
            # One ascent, along whose way the place changes.
            place = None
        rows.setdefault((valid_utc, place), []).append((height, direction, speed))
        if spread_ms is not None:
            spreads[valid_utc, place] = spread_ms
    taken_utc = sum(times) / len(times) if times else None
    return [
        replace(
            _built(levels, taken_utc if valid_utc is None else valid_utc, place),
            issued_utc=issued_utc,
            spread_ms=spreads.get((valid_utc, place)),
        )
        for (valid_utc, place), levels in rows.items()
    ]


def _utc(text: str) -> float:
    moment = datetime.fromisoformat(text)
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()


def _igra(text: str) -> list[WindTable]:
    """Columns by the format's own table: 1-based 17-21 height, 41-45 direction, 47-51 speed."""
    tables = []
    rows: list[tuple[float, float, float]] = []
    time_utc: float | None = None
    place: Place | None = None
    for line in [*text.splitlines(), "#"]:
        if line.startswith("#"):
            if rows:
                tables.append(_built(rows, time_utc, place))
            rows, time_utc, place = [], _igra_time(line), _igra_place(line)
            continue
        try:
            height, direction, speed = int(line[16:21]), int(line[40:45]), int(line[46:51])
        except ValueError:
            continue
        if height in _MISSING or direction in _MISSING or speed in _MISSING:
            continue
        above = EARTH_M * height / (EARTH_M - height)
        rows.append((above, float(direction), speed / 10.0))
    return tables


def _igra_place(header: str) -> Place | None:
    """Columns 56-62 and 64-71: ten-thousandths of a degree."""
    try:
        lat, lon = int(header[55:62]) / 1e4, int(header[63:71]) / 1e4
    except ValueError:
        return None
    return (lat, lon) if abs(lat) <= 90.0 and abs(lon) <= 180.0 else None


def _igra_time(header: str) -> float | None:
    """The release time where it is given, else the nominal hour. A balloon of 00 UTC goes up in the
    evening before."""
    try:
        year, month, day = int(header[13:17]), int(header[18:20]), int(header[21:23])
        hour, release = int(header[24:26]), header[27:31]
    except ValueError:
        return None
    released = release[:2].isdigit() and int(release[:2]) < 24
    minute = int(release[2:]) if released and release[2:].isdigit() and release[2:] < "60" else 0
    if not released and not hour < 24:
        return None
    moment = datetime(
        year, month, day, int(release[:2]) if released else hour, minute, tzinfo=UTC
    ).timestamp()
    return moment - 86_400.0 if released and int(release[:2]) > hour + 12 else moment


def _built(
    rows: list[tuple[float, float, float]], time_utc: float | None, place: Place | None
) -> WindTable:
    table = np.array(sorted(dict.fromkeys(rows)), dtype=float).reshape(-1, 3)
    _, once = np.unique(table[:, 0], return_index=True)
    height, direction, speed = table[once].T
    towards = np.radians(direction + 180.0)
    return WindTable(height, speed * np.sin(towards), speed * np.cos(towards), time_utc, place)
