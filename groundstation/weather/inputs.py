"""What a person gives the landing estimate beside the fixes."""

from dataclasses import dataclass
from pathlib import Path

from groundstation.errors import ConfigurationError, InputFileError
from groundstation.physics.wind import WindsAloft
from groundstation.weather.terrain import Tiles
from groundstation.weather.winds import read_winds


@dataclass(frozen=True, slots=True, kw_only=True)
class LandingInputs:
    """``terrain`` is a folder of SRTM tiles, ``winds`` a file of winds aloft for the day.

    ``winds_sd_ms`` is how far those are off, per component: about 3 m/s for a forecast of the same
    day, more for a sounding that is hours old or far away (common practice, no source).
    ``keep_out`` is GeoJSON of areas in which it must not come down.
    """

    terrain: Path | None = None
    winds: Path | None = None
    winds_sd_ms: float = 4.0
    keep_out: Path | None = None

    def __post_init__(self) -> None:
        if not 0.0 < self.winds_sd_ms <= 50.0:
            raise ConfigurationError("winds_sd_ms must be above 0 and at most 50")


def open_terrain(inputs: LandingInputs) -> Tiles | None:
    """Raises ``ConfigurationError`` for a folder without tiles."""
    return None if inputs.terrain is None else Tiles(inputs.terrain)


def open_winds(inputs: LandingInputs, near_utc: float | None = None) -> WindsAloft | None:
    """The winds of the file, of several soundings those nearest to ``near_utc``.

    Raises ``ConfigurationError`` for a file that can't be read.
    """
    if inputs.winds is None:
        return None
    try:
        table = read_winds(inputs.winds, near_utc)
    except InputFileError as error:
        raise ConfigurationError(f"landing.winds: {error}") from error
    return WindsAloft.of(
        f"winds aloft from {inputs.winds.name}",
        table.height_m,
        table.east_ms,
        table.north_ms,
        inputs.winds_sd_ms,
    )
