"""The launches of a plan flown: the one that is meant, each hour after it, and from other sites."""

import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from groundstation.errors import OutOfModelRangeError
from groundstation.flight.settings import PlanSettings, Terrain
from groundstation.language.catalogue import _
from groundstation.planning.course import Course, course
from groundstation.planning.forecast import Forecast, at_sea_level, forecast
from groundstation.planning.settings import FlightFile, SiteSettings
from groundstation.planning.spread import Plan
from groundstation.planning.windfield import WindField

SWEEP_MEMBERS: Final = 300  # own choice: shares to 3 %, in a third of the time


@dataclass(frozen=True, slots=True, kw_only=True)
class Flown:
    """One launch: where the middle of it goes, and the whole spread; ``fouled`` is the middle's way
    under a canopy that did not open, of the first launch."""

    course: Course
    forecast: Forecast
    site: SiteSettings
    fouled: Course | None = None


def launches(
    flight: FlightFile,
    plan: Plan,
    settings: PlanSettings,
    field: WindField,
    launch_utc: float,
    terrain: Terrain | None,
    hours: int,
) -> Iterator[Flown]:
    """The one at ``launch_utc`` and each of so many ``hours`` after it, as far as the winds reach.
    Raises ``OutOfModelRangeError`` for winds of another day."""
    middle = course(flight.site, settings, field, launch_utc)
    made = forecast(
        flight.name,
        flight.site,
        settings,
        middle.met,
        launch_utc,
        terrain,
        shown=flight.shown,
    )
    slack = replace(settings, descent_rate_ms=at_sea_level(plan, plan.fouled.middle_ms))
    fouled = course(flight.site, slack, field, launch_utc)
    yield Flown(course=middle, forecast=made, site=flight.site, fouled=fouled)
    for hour in range(1, hours + 1):
        if sys.stderr.isatty():
            progress = _("hour {hour} of {hours}", hour=hour, hours=hours)
            print(f"\r{progress} ", end="", file=sys.stderr, flush=True)
        at_utc = launch_utc + 3600.0 * hour
        try:
            middle = course(flight.site, settings, field, at_utc)
        except OutOfModelRangeError:
            return
        made = forecast(
            flight.name,
            flight.site,
            settings,
            middle.met,
            at_utc,
            terrain,
            members=SWEEP_MEMBERS,
            shown=flight.shown,
        )
        yield Flown(course=middle, forecast=made, site=flight.site)


def sites(
    flight: FlightFile, settings: PlanSettings, field: WindField, launch_utc: float
) -> Iterator[Flown]:
    """The candidates and the site itself, where there are candidates."""
    for site in (flight.site, *flight.candidate) if flight.candidate else ():
        middle = course(site, settings, field, launch_utc)
        made = forecast(
            flight.name,
            site,
            settings,
            middle.met,
            launch_utc,
            members=SWEEP_MEMBERS,
            shown=flight.shown,
        )
        yield Flown(course=middle, forecast=made, site=site)
