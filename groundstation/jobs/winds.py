"""What the winds command does."""

import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from groundstation.errors import InputFileError
from groundstation.jobs.files import write_text
from groundstation.jsonout import iso_utc
from groundstation.weather.forecast_json import read_forecast
from groundstation.weather.grib import is_grib, read_grib
from groundstation.weather.profile_file import profile_text
from groundstation.weather.wind_table import WindTable
from groundstation.weather.winds import read_all_winds

# The levels that forecast services give (common practice).
LEVELS_HPA: Final = (
    1000, 975, 950, 925, 900, 850, 800, 700, 600, 500, 400, 300, 250, 200, 150, 100, 70, 50, 30,
    20, 10,
)  # fmt: skip
PATIENCE_S: Final = 30.0  # own choice: a slow link of a phone
LARGEST_BYTES: Final = 4_000_000  # own choice, against an answer of another kind

Point = tuple[float, float]
"""Latitude and longitude in degrees."""


def gather(
    files: Sequence[Path], point: Point | None, service: tuple[str, int] | None, out: Path
) -> Iterator[str]:
    """Write ``out``, and tell a line for each profile in it. Raises ``InputFileError``."""
    tables: list[WindTable] = []
    for file in files:
        if not is_grib(file):
            tables += read_all_winds(file)
        elif point is None:
            raise InputFileError(f"{file} is GRIB: say where, by --latitude and --longitude")
        else:
            tables += read_grib(file, *point)
    if service is not None and point is not None:
        address, hours = service
        tables += read_forecast(fetched(address, *point), address)[:hours]
    if not tables:
        raise InputFileError("there are no winds at two heights or more in that")
    tables.sort(key=lambda table: table.time_utc or 0.0)
    write_text(out, profile_text(tables))
    for table in tables:
        yield (
            f"{iso_utc(table.time_utc) or 'no time'}: {len(table.height_m)} levels,"
            f" {table.height_m[0]:.0f} to {table.height_m[-1] / 1000.0:.1f} km"
        )
    yield f"written to {out}"


def fetched(address: str, latitude: float, longitude: float) -> str:
    """The forecast of a place, as the service gives it. Raises ``InputFileError``."""
    if not address.startswith(("https://", "http://")):
        raise InputFileError(f"{address} is no address of a service; give https://…")
    names = [
        f"{what}_{level}hPa"
        for level in LEVELS_HPA
        for what in ("wind_speed", "wind_direction", "geopotential_height")
    ]
    query = urllib.parse.urlencode(
        {
            "latitude": f"{latitude:.4f}",
            "longitude": f"{longitude:.4f}",
            "hourly": ",".join(names),
            "wind_speed_unit": "ms",
            "timezone": "GMT",
        }
    )
    url = f"{address.rstrip('/')}/v1/forecast?{query}"
    try:
        with urllib.request.urlopen(url, timeout=PATIENCE_S) as answer:
            data = answer.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        raise InputFileError(
            f"no forecast from {address} ({error}); try later, or get a file by other means"
        ) from error
    if len(data) > LARGEST_BYTES:
        raise InputFileError(
            f"{address} gives more than {LARGEST_BYTES / 1e6:.0f} MB; that is none"
        )
    return str(data.decode("utf-8", "replace"))
