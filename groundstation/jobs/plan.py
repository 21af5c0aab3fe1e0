"""What the plan command does: read the file, solve it, fly it, and say it."""

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from groundstation.errors import ConfigurationError, OutOfModelRangeError
from groundstation.flight.settings import PlanSettings
from groundstation.geo.hazards import Hazard, read_hazards
from groundstation.jobs.files import write_text
from groundstation.physics.wind import WindsAloft
from groundstation.planning import rules
from groundstation.planning.brief import brief_html
from groundstation.planning.course import course
from groundstation.planning.decision import Weighed, weighed
from groundstation.planning.flight_file import read_flight
from groundstation.planning.forecast import (
    Forecast,
    Winds,
    forecast,
    plan_settings,
    share_inside,
    winds_at,
)
from groundstation.planning.lessons import like, read_lessons
from groundstation.planning.lift import pressure_used_pa
from groundstation.planning.notice import notice_html, notice_lines, notice_text
from groundstation.planning.past import PastFlight, narrowed, past_flights, told
from groundstation.planning.settings import FlightFile, SiteSettings
from groundstation.planning.spread import Plan, planned
from groundstation.planning.warnings import warnings
from groundstation.recordings.detection import is_database
from groundstation.store.reader import Reader
from groundstation.weather.terrain import Tiles
from groundstation.weather.winds import read_all_winds

SWEEP_MEMBERS: Final = 300


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRequest:
    """What was asked for on the command line."""

    flight: Path
    winds: tuple[Path, ...] = ()
    winds_sd_ms: float = 3.0
    launch: str | None = None
    hours: int | None = None
    keep_out: Path | None = None
    terrain: Path | None = None
    past: Path | None = None
    notice: Path | None = None
    brief: Path | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """What came of it. ``used_pa`` is what the fill takes from the cylinder, or ``short`` says why
    it can't; ``sites`` are compared where there are several."""

    flight: FlightFile
    plan: Plan
    used_pa: float | None
    short: str
    forecasts: tuple[Forecast, ...]
    sites: tuple[tuple[SiteSettings, Forecast], ...]
    keep_out: tuple[Hazard, ...]
    settings: PlanSettings
    learned: tuple[str, ...]
    asked_hours: int
    aloft: WindsAloft | None


def work(request: PlanRequest) -> Worked:
    """Read, solve and fly it. Raises ``GroundstationError`` for what can't be."""
    flight = read_flight(request.flight)
    plan = planned(flight)
    used_pa, short = None, ""
    if flight.cylinder is not None:
        try:
            used_pa = pressure_used_pa(
                flight.cylinder, plan.lift.volume_m3, flight.gas.kind, plan.balloon.air
            )
        except OutOfModelRangeError as error:
            short = str(error)
    expected = plan_settings(plan)
    past = () if request.past is None else tuple(_past(request.past, flight))
    settings = narrowed(expected, past)
    winds = _winds(request)
    launch_utc = _moment(request.launch or flight.launch) if winds else 0.0
    aloft = _aloft(flight, winds, launch_utc) if winds else None
    keep_out = () if request.keep_out is None else read_hazards(request.keep_out)
    return Worked(
        flight=flight,
        plan=plan,
        used_pa=used_pa,
        short=short,
        settings=settings,
        asked_hours=request.hours or 0,
        learned=tuple(told(expected, settings, past)) if past else (),
        forecasts=tuple(_forecasts(request, flight, settings, winds, launch_utc)) if aloft else (),
        sites=tuple(_sites(flight, settings, aloft, launch_utc)) if aloft else (),
        aloft=aloft,
        keep_out=tuple(one for one in keep_out if one.area),
    )


def write(request: PlanRequest, worked: Worked) -> None:
    """The notice and the page, where they are asked for."""
    if request.notice is None and request.brief is None:
        return
    if worked.aloft is None:
        raise ConfigurationError("a notice and a brief tell where it goes: give --winds")
    flight, plan, [first, *_] = worked.flight, worked.plan, worked.forecasts
    middle = course(flight.site, worked.settings, worked.aloft)
    if request.notice is not None:
        lines = notice_lines(flight, plan, first, middle)
        printed = request.notice.suffix in (".html", ".htm")
        text = notice_html(flight.name, lines) if printed else notice_text(lines) + "\n"
        write_text(request.notice, text)
    if request.brief is not None:
        html = brief_html(
            flight,
            plan,
            first,
            middle,
            weighed_of(worked),
            [(name_of(one), one.parts) for one in worked.keep_out],
            list(warnings(flight, plan)),
            rules.CAUTION,
        )
        write_text(request.brief, html)


def weighed_of(worked: Worked) -> tuple[Weighed, ...]:
    """The person's own limits, of the first launch."""
    assert worked.aloft is not None
    first = worked.forecasts[0]
    kept_out = {name_of(one): share_inside(first.scatter, one.parts) for one in worked.keep_out}
    return weighed(worked.flight, first, worked.aloft, kept_out)


def name_of(hazard: Hazard) -> str:
    return f"{hazard.kind} {hazard.name}".strip()


def _forecasts(
    request: PlanRequest,
    flight: FlightFile,
    settings: PlanSettings,
    winds: list[Winds],
    launch_utc: float,
) -> Iterator[Forecast]:
    terrain = None if request.terrain is None else Tiles(request.terrain)
    yield forecast(
        flight.name, flight.site, settings, _aloft(flight, winds, launch_utc), launch_utc, terrain
    )
    for hour in range(1, (request.hours or 0) + 1):
        if sys.stderr.isatty():
            print(f"\rhour {hour} of {request.hours} ", end="", file=sys.stderr, flush=True)
        at_utc = launch_utc + 3600.0 * hour
        try:
            aloft = _aloft(flight, winds, at_utc)
        except OutOfModelRangeError:
            return
        yield forecast(
            flight.name, flight.site, settings, aloft, at_utc, terrain, members=SWEEP_MEMBERS
        )


def _sites(
    flight: FlightFile, settings: PlanSettings, aloft: WindsAloft, launch_utc: float
) -> Iterator[tuple[SiteSettings, Forecast]]:
    """The candidates and the site itself, where there are candidates."""
    for site in (flight.site, *flight.candidate) if flight.candidate else ():
        yield site, forecast(flight.name, site, settings, aloft, launch_utc, members=SWEEP_MEMBERS)


def _past(path: Path, flight: FlightFile) -> Iterator[PastFlight]:
    """The flights of this payload in a station's database or a file of lessons. Raises
    ``StoreError`` or ``ConfigurationError``."""
    if not is_database(path):
        lessons = like(read_lessons(path), flight.name, flight.payload_kg)
        yield from (one.flight for one in lessons)
        return
    with Reader(path) as reader:
        fixes = [fix for _, fix in reader.fixes(flight.name)]
        yield from past_flights(reader.phases(flight.name), fixes)


def _aloft(flight: FlightFile, winds: list[Winds], time_utc: float) -> WindsAloft:
    """Of several places those count that are near the middle of the flight, found in two steps."""
    site = (flight.site.latitude_deg, flight.site.longitude_deg)
    first = winds_at(winds, time_utc, site)
    middle = course(flight.site, PlanSettings(), first)
    n = len(middle.time_s) // 2
    return winds_at(
        winds, time_utc, (float(middle.latitude_deg[n]), float(middle.longitude_deg[n]))
    )


def _winds(request: PlanRequest) -> list[Winds]:
    return [
        Winds(
            time_utc=table.time_utc,
            place=table.place,
            aloft=WindsAloft.of(
                path.name, table.height_m, table.east_ms, table.north_ms, request.winds_sd_ms
            ),
        )
        for path in request.winds
        for table in read_all_winds(path)
    ]


def _moment(text: str | None) -> float:
    if text is None:
        raise ConfigurationError("when is it let go? Give --launch, or launch in the flight file")
    try:
        time = datetime.fromisoformat(text)
    except ValueError as error:
        raise ConfigurationError(f"{text!r} is not a time such as 2026-05-16T08:30:00Z") from error
    return (time if time.tzinfo else time.replace(tzinfo=UTC)).timestamp()


def kept_out_of(worked: Worked, one: Forecast) -> Iterator[tuple[str, float]]:
    for hazard in worked.keep_out:
        share = share_inside(one.scatter, hazard.parts)
        if share > 0.0:
            yield name_of(hazard), share
