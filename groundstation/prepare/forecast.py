"""A forecast of winds aloft from a service that gives pressure levels as JSON: columns over a
region, over hours, with the run that it comes from.

The questions are those of the public documentation of Open-Meteo's API, from memory: several
places at once by commas, days by ``start_date`` and ``end_date``, and beside it a small document
that tells when the newest run was begun.
"""

import json
import urllib.parse
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final

from groundstation.errors import InputFileError
from groundstation.prepare.download import FetchError, get
from groundstation.prepare.region import Place, Region
from groundstation.prepare.settings import PrepareSettings, is_address
from groundstation.weather.forecast_json import read_forecast
from groundstation.weather.wind_table import WindTable

# The levels that forecast services give (common practice).
LEVELS_HPA: Final = (
    1000, 975, 950, 925, 900, 850, 800, 700, 600, 500, 400, 300, 250, 200, 150, 100, 70, 50, 30,
    20, 10,
)  # fmt: skip
ACROSS: Final = 3
"""Columns each way: over 300 km the wind between them is off by less than the forecast is (own
choice; each more costs who gives it)."""

LARGEST_BYTES: Final = 40_000_000  # own choice: nine columns, four days and thirty members
BEFORE_S: Final = 3_600.0  # own choice: the hour before the launch, to be between two


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Who is asked for what."""

    address: str
    model: str = ""
    runs: str = ""
    ensemble: bool = False


def asked_of(settings: PrepareSettings) -> Asked:
    """The ensemble where one is named, else the one forecast."""
    if settings.ensemble:
        return Asked(address=settings.ensemble, model=settings.ensemble_model, ensemble=True)
    return Asked(
        address=settings.forecast, model=settings.forecast_model, runs=settings.forecast_runs
    )


def fetched(asked: Asked, region: Region, begin_utc: float, end_utc: float) -> list[WindTable]:
    """Columns over the region, each hour between these. Raises ``FetchError``, and
    ``InputFileError`` for an answer that can't be read."""
    issued_utc = run_utc(asked)
    tables = at_places(asked, region.columns(ACROSS), begin_utc - BEFORE_S, end_utc, issued_utc)
    if not tables:
        raise InputFileError(f"{asked.address} has no winds for that region and those hours")
    return tables


def at_places(
    asked: Asked,
    places: Sequence[Place],
    begin_utc: float,
    end_utc: float,
    issued_utc: float | None,
) -> list[WindTable]:
    """Those of each place and hour. Raises ``FetchError`` and ``InputFileError``."""
    if not is_address(asked.address):
        raise FetchError(
            "{address} is no address of a service; give https://…", address=asked.address
        )
    text = get(_question(asked, places, begin_utc, end_utc), LARGEST_BYTES).data.decode(
        "utf-8", "replace"
    )
    tables = read_forecast(text, asked.address, issued_utc, places)
    return [table for table in tables if begin_utc <= (table.time_utc or 0.0) <= end_utc]


def run_utc(asked: Asked) -> float | None:
    """When the newest run was begun; None where the service does not say."""
    if not asked.runs:
        return None
    address = f"{asked.address.rstrip('/')}/data/{urllib.parse.quote(asked.runs)}/static/meta.json"
    try:
        reply = json.loads(get(address, 100_000).data)
        at = float(reply["last_run_initialisation_time"])
    except (FetchError, ValueError, KeyError, TypeError, RecursionError):
        return None
    return at if 0.0 < at < 1e11 else None


def _question(asked: Asked, places: Sequence[Place], begin_utc: float, end_utc: float) -> str:
    names = [
        f"{what}_{level}hPa"
        for level in LEVELS_HPA
        for what in ("wind_speed", "wind_direction", "geopotential_height")
    ]
    query = {
        "latitude": ",".join(f"{lat:.4f}" for lat, _ in places),
        "longitude": ",".join(f"{lon:.4f}" for _, lon in places),
        "hourly": ",".join(names),
        "wind_speed_unit": "ms",
        "timezone": "GMT",
        "start_date": f"{datetime.fromtimestamp(begin_utc, UTC):%Y-%m-%d}",
        "end_date": f"{datetime.fromtimestamp(end_utc, UTC):%Y-%m-%d}",
    }
    if asked.model:
        query["models"] = asked.model
    path = "ensemble" if asked.ensemble else "forecast"
    return f"{asked.address.rstrip('/')}/v1/{path}?{urllib.parse.urlencode(query)}"
