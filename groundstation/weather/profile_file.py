"""One file with the winds of several hours, as ``groundstation winds`` writes it and all else here
reads it: CSV with the columns valid (ISO 8601), lat, lon, height_m, wind_from_deg, wind_speed_ms,
issued (ISO 8601), which is empty for what is no forecast, and spread_ms, which only an ensemble
has.
"""

import csv
import io
from collections.abc import Iterable

import numpy as np

from groundstation.jsonout import iso_utc
from groundstation.weather.wind_table import WindTable

COLUMNS = (
    "valid",
    "lat",
    "lon",
    "height_m",
    "wind_from_deg",
    "wind_speed_ms",
    "issued",
    "spread_ms",
)


def profile_text(tables: Iterable[WindTable]) -> str:
    """Values to 0.1 m, 0.1 degree and 0.01 m/s."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for table in tables:
        valid = iso_utc(table.time_utc) or ""
        issued = iso_utc(table.issued_utc) or ""
        spread = "" if table.spread_ms is None else f"{table.spread_ms:.2f}"
        place = (
            ("", "") if table.place is None else tuple(f"{degrees:.4f}" for degrees in table.place)
        )
        speed = np.hypot(table.east_ms, table.north_ms)
        direction = (np.degrees(np.arctan2(table.east_ms, table.north_ms)) + 180.0) % 360.0
        for height, way, fast in zip(table.height_m, direction, speed, strict=True):
            values = f"{height:.1f}", f"{way:.1f}", f"{fast:.2f}"
            writer.writerow((valid, *place, *values, issued, spread))
    return out.getvalue()
