"""What the winds command does."""

import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from groundstation.errors import InputFileError
from groundstation.jobs.files import write_text
from groundstation.jsonout import iso_utc
from groundstation.prepare.forecast import Asked, at_places, run_utc
from groundstation.weather.grib import is_grib, read_grib
from groundstation.weather.profile_file import profile_text
from groundstation.weather.wind_table import WindTable
from groundstation.weather.winds import read_all_winds

Point = tuple[float, float]
"""Latitude and longitude in degrees."""


def gather(
    files: Sequence[Path], point: Point | None, service: tuple[Asked, int] | None, out: Path
) -> Iterator[str]:
    """Write ``out``, and tell a line for each profile in it. Raises ``InputFileError``,
    and ``FetchError`` where the service gives nothing."""
    tables: list[WindTable] = []
    for file in files:
        if not is_grib(file):
            tables += read_all_winds(file)
        elif point is None:
            raise InputFileError(f"{file} is GRIB: say where, by --latitude and --longitude")
        else:
            tables += read_grib(file, *point)
    if service is not None and point is not None:
        asked, hours = service
        now = time.time()
        tables += at_places(asked, [point], now, now + 3600.0 * hours, run_utc(asked))
    if not tables:
        raise InputFileError("there are no winds at two heights or more in that")
    tables.sort(key=lambda table: table.time_utc or 0.0)
    write_text(out, profile_text(tables))
    for table in tables:
        yield (
            f"{iso_utc(table.time_utc) or 'no time'}: {len(table.height_m)} levels,"
            f" {table.height_m[0]:.0f} to {table.height_m[-1] / 1000.0:.1f} km{_run(table)}"
        )
    yield f"written to {out}"


def _run(table: WindTable) -> str:
    return "" if table.issued_utc is None else f", made {iso_utc(table.issued_utc)}"
