"""The winds that a station's flights meet: of files, by place and time."""

from dataclasses import dataclass
from pathlib import Path

from groundstation.flight.settings import BaseSettings, PlanSettings
from groundstation.physics.wind import WindsAloft
from groundstation.planning.read_field import met_by, read_field
from groundstation.planning.settings import SiteSettings
from groundstation.planning.windfield import WindField
from groundstation.records import Fix

LOWEST_M, HIGHEST_M = -430.0, 6_000.0  # of a field, as SiteSettings has it


@dataclass(frozen=True, slots=True, kw_only=True)
class WindFiles:
    """``given`` by the person, with how far it is off, goes before what was ``fetched``, which is
    by ``whom``."""

    given: Path | None
    given_sd_ms: float
    fetched: Path
    whom: str = ""

    def field(self, near_utc: float) -> WindField | None:
        """None where there is neither. Raises ``InputFileError``."""
        if self.given is not None:
            name = f"winds aloft from {self.given.name}"
            return read_field([self.given], near_utc, self.given_sd_ms, name)
        if not self.fetched.is_file():
            return None
        name = f"forecast by {self.whom}" if self.whom else "forecast"
        return read_field([self.fetched], near_utc, label=name)


def winds_met(
    field: WindField,
    plan: PlanSettings,
    at_utc: float,
    *,
    launch: Fix | None = None,
    site: SiteSettings | None = None,
    base: BaseSettings | None = None,
) -> WindsAloft:
    """From the ``launch`` on, else from ``at_utc`` at the site, at base, or in the middle of the
    columns. Raises ``OutOfModelRangeError`` for winds of another day."""
    if launch is not None:
        at_utc = launch.time_utc
        site = _site(launch.latitude_deg, launch.longitude_deg, launch.altitude_m or 0.0)
    elif site is None and base is not None:
        site = _site(base.latitude_deg, base.longitude_deg, base.altitude_m)
    elif site is None:
        places = sorted(wind.place for wind in field.winds if wind.place is not None) or [
            (0.0, 0.0)
        ]
        site = _site(*places[len(places) // 2], 0.0)
    return met_by(field, plan, site, at_utc)


def _site(latitude_deg: float, longitude_deg: float, altitude_m: float) -> SiteSettings:
    return SiteSettings(
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        altitude_m=max(LOWEST_M, min(altitude_m, HIGHEST_M)),
    )
