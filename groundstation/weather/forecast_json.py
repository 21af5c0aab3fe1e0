"""Winds aloft from a forecast service's JSON with pressure levels.

The shape of the common open services: under ``hourly`` one list a variable, named by quantity and
level, such as ``wind_speed_850hPa``, ``wind_direction_850hPa``, ``geopotential_height_850hPa``,
with their units under ``hourly_units`` and the hours under ``time``; older ones write
``windspeed_850hPa``. For several places there is a list of such documents; an ensemble has each
quantity of each member too, as ``wind_speed_850hPa_member01``.
Shape from memory and the public documentation of such services.
"""

import json
import math
import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any, Final

import numpy as np

from groundstation.errors import InputFileError
from groundstation.units import to_si
from groundstation.weather.wind_table import EARTH_M, FASTEST_MS, Place, WindTable

_NAME: Final = re.compile(
    r"(wind_?speed|wind_?direction|geopotential_height)_(\d+)hPa(?:_member(\d+))?"
)
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


def read_forecast(
    text: str,
    name: str,
    issued_utc: float | None = None,
    places: Sequence[Place] = (),
) -> list[WindTable]:
    """One table an hour and place; hours without values are left out. Of an ensemble they hold the
    mean and its spread. ``issued_utc`` is when it was made, ``places`` are those asked for:
    services answer in their order, and name the middles of their own cells. Raises
    ``InputFileError``."""
    try:
        document = json.loads(text)
        documents = document if isinstance(document, list) else [document]
        named = places if len(places) == len(documents) else [None] * len(documents)
        tables = [
            replace(table, issued_utc=issued_utc, place=place or table.place)
            for each, place in zip(documents, named, strict=True)
            for table in _of(each)
        ]
        if not documents or not any(_members(each["hourly"]) for each in documents):
            raise InputFileError(
                f"{name} holds no pressure levels; ask the service for wind_speed_850hPa and the"
                " like, with wind_direction and geopotential_height"
            )
    except (KeyError, TypeError, ValueError, AttributeError, IndexError, RecursionError) as error:
        raise InputFileError(
            f"{name} is no forecast with hourly pressure levels: {error}"
        ) from error
    return [table for table in tables if len(table.height_m) >= 2]


def _of(document: dict[str, Any]) -> list[WindTable]:
    """The hours of one place."""
    hourly, units = document["hourly"], document["hourly_units"]
    members = _members(hourly)
    place = None
    if "latitude" in document and "longitude" in document:
        place = (float(document["latitude"]), float(document["longitude"]))
    return [
        replace(_hour(n, members, hourly, units, _utc(time, document)), place=place)
        for n, time in enumerate(hourly["time"])
        if members
    ]


Levels = dict[int, dict[str, str]]
"""The names of the three quantities of each level, in hPa."""


def _members(hourly: dict[str, Any]) -> list[Levels]:
    """The levels that have all three quantities, of each member of an ensemble, or of the one."""
    found: dict[str, Levels] = {}
    for name in hourly:
        match = _NAME.fullmatch(name)
        if match:
            levels = found.setdefault(match[3] or "", {})
            levels.setdefault(int(match[2]), {})[match[1].replace("_", "")] = name
    whole = [
        {level: names for level, names in levels.items() if len(names) == len(_WANTED)}
        for _, levels in sorted(found.items())
    ]
    return [levels for levels in whole if levels]


def _hour(
    n: int,
    members: list[Levels],
    hourly: dict[str, Any],
    units: dict[str, str],
    time_utc: float,
) -> WindTable:
    """The mean of the members at the levels that the first of them has."""
    each = [_rows(n, levels, hourly, units) for levels in members]
    shared = [level for level in each[0] if all(level in row for row in each)]
    values = np.array([[row[level] for level in shared] for row in each]).reshape(
        len(each), len(shared), 3
    )
    height, east, north = values.mean(axis=0).T
    rising = np.argsort(height)
    spread = None
    if len(each) > 1 and shared:
        spread = float(np.sqrt((values[:, :, 1:].var(axis=0, ddof=1)).mean()))
    return WindTable(height[rising], east[rising], north[rising], time_utc, spread_ms=spread)


def _rows(
    n: int, levels: Levels, hourly: dict[str, Any], units: dict[str, str]
) -> dict[int, tuple[float, float, float]]:
    """Height in metres and wind towards east and north in m/s, of each level that has values."""
    rows = {}
    for level, names in levels.items():
        values = [hourly[names[wanted]][n] for wanted in _WANTED]
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
        towards = math.radians(direction + 180.0)
        rows[level] = (
            EARTH_M * height_m / (EARTH_M - height_m),
            speed_ms * math.sin(towards),
            speed_ms * math.cos(towards),
        )
    return rows


def _utc(text: str | float, document: dict[str, Any]) -> float:
    """Times are in the offset that the answer names."""
    if isinstance(text, int | float):
        return float(text)
    moment = datetime.fromisoformat(text)
    if moment.tzinfo:
        return moment.timestamp()
    return moment.replace(tzinfo=UTC).timestamp() - float(document.get("utc_offset_seconds", 0))
