"""Winds aloft from GRIB2 (WMO FM 92): u, v and geopotential height on isobaric levels.

Needs the extra "grib" (ecCodes), which is imported only here.
"""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from groundstation.errors import InputFileError
from groundstation.physics.atmosphere import STANDARD_GRAVITY_MS2
from groundstation.weather.wind_table import EARTH_M, FASTEST_MS, WindTable

MAGIC: Final = b"GRIB"
MOST_MESSAGES: Final = 50_000  # own choice, against a file of another kind
WANTED: Final = ("u", "v", "gh")


def is_grib(path: Path) -> bool:
    """Whether the file begins as one. False for what can't be opened."""
    try:
        with path.open("rb") as file:
            return file.read(4) == MAGIC
    except OSError:
        return False


def read_grib(path: Path, latitude_deg: float, longitude_deg: float) -> list[WindTable]:
    """One table a time, of the grid's point nearest to the place. Raises ``InputFileError``."""
    try:
        # ecCodes may bring an old SQLite along, and whoever is loaded first is taken by all.
        import sqlite3  # noqa: F401, PLC0415

        import eccodes  # noqa: PLC0415
    except (ImportError, RuntimeError) as error:
        raise InputFileError(
            f'{path} is GRIB, which needs ecCodes: pip install "groundstation[grib]"'
        ) from error
    # By the time that each is valid at: by the level: u, v and gh.
    found: dict[float, dict[float, dict[str, float]]] = defaultdict(lambda: defaultdict(dict))
    issued: dict[float, float] = {}
    try:
        for name, level, valid_utc, issued_utc, value in _values(
            eccodes, path, latitude_deg, longitude_deg
        ):
            # Of two runs in a file the newer one counts.
            if issued.get(valid_utc, issued_utc) > issued_utc:
                continue
            issued[valid_utc] = issued_utc
            found[valid_utc][level][name] = value
    except (OSError, eccodes.CodesInternalError) as error:
        raise InputFileError(f"{path} can't be read as GRIB: {error}") from error
    tables = [
        replace(
            _table(levels, valid_utc, path, (latitude_deg, longitude_deg)),
            issued_utc=issued[valid_utc],
        )
        for valid_utc, levels in sorted(found.items())
    ]
    tables = [table for table in tables if len(table.height_m) >= 2]
    if not tables:
        raise InputFileError(
            f"{path} holds no u, v and geopotential height (gh) on two isobaric levels or more"
        )
    return tables


def _values(
    eccodes: Any, path: Path, latitude_deg: float, longitude_deg: float
) -> Iterator[tuple[str, float, float, float, float]]:
    """(quantity, level in hPa, when it is valid, when it was made, value)."""
    with path.open("rb") as file:
        for _ in range(MOST_MESSAGES):
            handle = eccodes.codes_grib_new_from_file(file)
            if handle is None:
                return
            try:
                if eccodes.codes_get(handle, "typeOfLevel") != "isobaricInhPa":
                    continue
                name = eccodes.codes_get(handle, "shortName")
                if name not in (*WANTED, "z"):
                    continue
                [near] = eccodes.codes_grib_find_nearest(handle, latitude_deg, longitude_deg)
                value = float(near["value"])
                if name == "z":
                    name, value = "gh", value / STANDARD_GRAVITY_MS2
                level = float(eccodes.codes_get(handle, "level"))
                valid_utc = _utc(eccodes, handle, "validityDate", "validityTime")
                yield name, level, valid_utc, _utc(eccodes, handle, "dataDate", "dataTime"), value
            finally:
                eccodes.codes_release(handle)


def _utc(eccodes: Any, handle: Any, *keys: str) -> float:
    date, time = (int(eccodes.codes_get(handle, key)) for key in keys)
    day = np.datetime64(f"{date // 10_000:04d}-{date // 100 % 100:02d}-{date % 100:02d}", "s")
    return float(day.astype(int) + 3_600 * (time // 100) + 60 * (time % 100))


def _table(
    levels: dict[float, dict[str, float]],
    valid_utc: float,
    path: Path,
    place: tuple[float, float],
) -> WindTable:
    whole = [level for level in levels.values() if all(name in level for name in WANTED)]
    rows = []
    for level in whole:
        if not np.hypot(level["u"], level["v"]) <= FASTEST_MS or not level["gh"] < 60_000.0:
            raise InputFileError(f"{path}: a wind of {level['u']:g}, {level['v']:g} m/s can't be")
        rows.append((EARTH_M * level["gh"] / (EARTH_M - level["gh"]), level["u"], level["v"]))
    rows.sort()
    heights, east, north = np.array(rows, dtype=float).reshape(-1, 3).T
    return WindTable(heights, east, north, valid_utc, place)
