"""Winds aloft from a forecast service's JSON with pressure levels.

The shape of the common open services: under ``hourly`` one list a variable, named by quantity and
level, such as ``wind_speed_850hPa``, ``wind_direction_850hPa``, ``geopotential_height_850hPa``,
with their units under ``hourly_units`` and the hours under ``time``; older ones write
``windspeed_850hPa``.
Shape from memory and the public documentation of such services.
"""

import json
import math
import re
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any, Final

import numpy as np

from groundstation.errors import InputFileError
from groundstation.units import to_si
from groundstation.weather.wind_table import EARTH_M, FASTEST_MS, WindTable

_NAME: Final = re.compile(r"(wind_?speed|wind_?direction|geopotential_height)_(\d+)hPa")
_WANTED: Final = ("geopotentialheight", "windspeed", "winddirection")
_UNITS: Final = {
    "km/h": "km/h",
    "kmh": "km/h",
    "m/s": "m/s",
    "ms": "m/s",
    "mph": "mph",
    "mp/h": "mph",
    "kn": "kt",
    "kt": "kt",
}


def read_forecast(text: str, name: str) -> list[WindTable]:
    """One table an hour; hours without values are left out. Raises ``InputFileError``."""
    try:
        document = json.loads(text)
        hourly, units = document["hourly"], document["hourly_units"]
        times = [_utc(time, document) for time in hourly["time"]]
        levels = _levels(hourly)
        if not levels:
            raise InputFileError(
                f"{name} holds no pressure levels; ask the service for wind_speed_850hPa and the"
                " like, with wind_direction and geopotential_height"
            )
        place = None
        if "latitude" in document and "longitude" in document:
            place = (float(document["latitude"]), float(document["longitude"]))
        tables = [
            replace(_table(n, levels, hourly, units, at), place=place) for n, at in enumerate(times)
        ]
    except (KeyError, TypeError, ValueError, AttributeError, IndexError, RecursionError) as error:
        raise InputFileError(
            f"{name} is no forecast with hourly pressure levels: {error}"
        ) from error
    return [table for table in tables if len(table.height_m) >= 2]


def _levels(hourly: dict[str, Any]) -> dict[int, dict[str, str]]:
    """The names of the three quantities of each level that has them."""
    found: dict[int, dict[str, str]] = {}
    for name in hourly:
        match = _NAME.fullmatch(name)
        if match:
            found.setdefault(int(match[2]), {})[match[1].replace("_", "")] = name
    return {level: names for level, names in found.items() if len(names) == 3}


def _table(
    n: int,
    levels: dict[int, dict[str, str]],
    hourly: dict[str, Any],
    units: dict[str, str],
    time_utc: float,
) -> WindTable:
    rows = []
    for names in levels.values():
        values = [
            hourly[names[wanted]][n]
            for wanted in ("geopotentialheight", "windspeed", "winddirection")
        ]
        if any(value is None for value in values):
            continue
        height, speed, direction = (float(value) for value in values)
        unit = units[names["windspeed"]]
        if unit not in _UNITS:
            raise ValueError(f"wind in {unit!r}")
        speed_ms = to_si(speed, _UNITS[unit])
        height_m = to_si(height, {"m": "m", "ft": "ft"}[units[names["geopotentialheight"]]])
        if not (0.0 <= speed_ms <= FASTEST_MS and math.isfinite(height_m) and height_m < 60_000.0):
            raise ValueError(f"{speed:g} {unit} at {height:g} m can't be")
        rows.append((EARTH_M * height_m / (EARTH_M - height_m), direction, speed_ms))
    rows.sort()
    heights, ways, speeds = np.array(rows, dtype=float).reshape(-1, 3).T
    towards = np.radians(ways + 180.0)
    return WindTable(heights, speeds * np.sin(towards), speeds * np.cos(towards), time_utc)


def _utc(text: str | float, document: dict[str, Any]) -> float:
    """Times are in the offset that the answer names."""
    if isinstance(text, int | float):
        return float(text)
    moment = datetime.fromisoformat(text)
    if moment.tzinfo:
        return moment.timestamp()
    return moment.replace(tzinfo=UTC).timestamp() - float(document.get("utc_offset_seconds", 0))
