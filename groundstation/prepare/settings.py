"""What the person sets about fetching."""

import re
from dataclasses import dataclass
from typing import Final

from groundstation.errors import ConfigurationError
from groundstation.prepare.services import (
    FORECAST,
    FORECAST_MODEL,
    FORECAST_RUNS,
    TERRAIN,
    VILLAGES,
)

SOONEST_S: Final = 1_800.0
"""Own choice: models run each six hours at most, and what is free is used sparingly."""

_ADDRESS: Final = re.compile(r"https?://[^\s/]+.*")


@dataclass(frozen=True, slots=True, kw_only=True)
class PrepareSettings:
    """Where ``prepare`` gets what a day needs: each an address, or a folder or file of the person's
    own; "" leaves it out. ``map`` is a build of a map as PMTiles. ``radius_m`` is around the site,
    where no plan tells. Each ``forecast_every_s`` a running station asks for a new forecast; None
    never. Raises ``ConfigurationError``."""

    radius_m: float = 150_000.0
    forecast: str = FORECAST.address
    forecast_model: str = FORECAST_MODEL
    forecast_runs: str = FORECAST_RUNS
    ensemble: str = ""
    ensemble_model: str = ""
    forecast_every_s: float | None = None
    terrain: str = TERRAIN.address
    villages: str = VILLAGES.address
    map: str = ""
    map_zoom: int = 13

    def __post_init__(self) -> None:
        if not 1_000.0 <= self.radius_m <= 600_000.0:
            raise ConfigurationError("prepare.radius_m is between 1 km and 600 km")
        if self.forecast_every_s is not None and self.forecast_every_s < SOONEST_S:
            raise ConfigurationError(
                "prepare.forecast_every_s is at least 30 min: forecasts are made each six hours"
            )
        if not 6 <= self.map_zoom <= 15:
            raise ConfigurationError("prepare.map_zoom is between 6 and 15")


def is_address(text: str) -> bool:
    """Whether it is one of HTTP, and not a folder or file."""
    return _ADDRESS.fullmatch(text) is not None
