"""Winds of files as a field over time and place, and as a flight meets them."""

from collections.abc import Iterable, Sequence
from pathlib import Path

from groundstation.flight.settings import PlanSettings
from groundstation.language.forecast_runs import run_text
from groundstation.physics.wind import WindsAloft
from groundstation.planning.course import course
from groundstation.planning.settings import SiteSettings
from groundstation.planning.windfield import WindField, Winds, forecast_sd_ms
from groundstation.weather.wind_table import WindTable
from groundstation.weather.winds import read_all_winds


def read_field(
    paths: Sequence[Path], launch_utc: float, sd_ms: float | None = None, label: str = ""
) -> WindField:
    """All hours and columns of all files. Without ``sd_ms`` how far they are off comes from their
    spread, else from how long before the launch they were made. ``label`` takes the place of their
    names. Raises ``InputFileError``."""
    return WindField(
        tuple(
            wind
            for path in paths
            for wind in _winds(read_all_winds(path), label or path.name, launch_utc, sd_ms)
        )
    )


def _winds(
    tables: Iterable[WindTable], name: str, launch_utc: float, sd_ms: float | None
) -> Iterable[Winds]:
    for table in tables:
        title, lead_s = name, None
        if table.issued_utc is not None:
            lead_s = launch_utc - table.issued_utc
            title = f"{name} ({run_text(table.issued_utc, launch_utc)})"
        off_ms = forecast_sd_ms(lead_s, table.spread_ms) if sd_ms is None else sd_ms
        aloft = WindsAloft.of(title, table.height_m, table.east_ms, table.north_ms, off_ms)
        yield Winds(time_utc=table.time_utc, place=table.place, aloft=aloft)


def met_by(
    field: WindField, plan: PlanSettings, site: SiteSettings, launch_utc: float
) -> WindsAloft:
    """What a flight meets, at each height by the place and time where the plan has it there;
    without a planned climb what there is above the site. Raises ``OutOfModelRangeError`` for winds
    of another day."""
    if plan.burst_altitude_m <= site.altitude_m or not field.changes:
        return field.at(launch_utc, (site.latitude_deg, site.longitude_deg))
    return course(site, plan, field, launch_utc).met
