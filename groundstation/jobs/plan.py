"""What the plan command does: read the file, solve it, fly it, and say it."""

import os
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np

from groundstation import config as configuration
from groundstation.config import StationSettings
from groundstation.errors import ConfigurationError, OutOfModelRangeError
from groundstation.flight.heights import beside_no_fix
from groundstation.flight.settings import PlanSettings
from groundstation.geo.keep_outs import KeepOuts, read_keep_outs
from groundstation.geo.places import Places, known_places
from groundstation.geo.world import World
from groundstation.jobs.files import write_text
from groundstation.jobs.plan_launches import Flown, launches, sites
from groundstation.jobs.plan_notes import far_keep_outs, far_winds, unused
from groundstation.jobs.prepare import FLIGHT_S, fetch_forecast, reaches
from groundstation.jobs.spoken_language import language_of
from groundstation.language.catalogue import _, speaking
from groundstation.physics.geodesy import distance_bearing
from groundstation.planning import rules
from groundstation.planning.brief import brief_html
from groundstation.planning.brief_pictures import box_of
from groundstation.planning.decision import KeptOutShares, Weighed, percent, weighed
from groundstation.planning.flight_file import read_flight
from groundstation.planning.forecast import Forecast, plan_settings
from groundstation.planning.launch_time import launch_moment, launch_text
from groundstation.planning.lessons_file import like, past_of, read_lessons
from groundstation.planning.lift import pressure_used_pa, volume_of
from groundstation.planning.notice import notice_html, notice_lines, notice_text
from groundstation.planning.past_flights import PastFlight, narrowed, past_flights, what_was_learned
from groundstation.planning.read_field import read_field
from groundstation.planning.settings import FlightFile
from groundstation.planning.spread import Plan, planned
from groundstation.planning.warnings import warnings
from groundstation.recordings.read_any import is_database
from groundstation.records import Fix, Height, NamedPlace
from groundstation.store.reader import Reader
from groundstation.weather.terrain import Tiles

AROUND: Final = 40  # own choice: towns to choose from for the map, of which a dozen find room


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRequest:
    """What was asked for on the command line. Without ``winds_sd_ms`` it comes from how old the
    forecast is; ``config`` is the station's, for its units and time zone and the forecast that it
    keeps, which ``fetch`` makes anew; ``language`` is that of the texts, else the station's."""

    flight: Path
    winds: tuple[Path, ...] = ()
    winds_sd_ms: float | None = None
    launch: str | None = None
    hours: int | None = None
    keep_out: Path | None = None
    terrain: Path | None = None
    past: Path | None = None
    notice: Path | None = None
    brief: Path | None = None
    config: Path | None = None
    fetch: bool = False
    language: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """What came of it. ``used_pa`` is what the fill takes from the cylinder, or ``short`` says why
    it can't; ``launches`` are the hours asked for, ``sites`` those compared where there are
    several, ``town`` is near the first landing. ``notes`` are sentences on what of the files is not
    used, or hardly meant. Texts are in ``language``."""

    flight: FlightFile
    plan: Plan
    used_pa: float | None
    short: str
    launches: tuple[Flown, ...]
    sites: tuple[Flown, ...]
    keep_outs: KeepOuts | None
    settings: PlanSettings
    learned: tuple[str, ...]
    asked_hours: int
    notes: tuple[str, ...]
    language: str
    town: NamedPlace | None = None


def work(request: PlanRequest) -> Worked:
    """Read, solve and fly it. Raises ``GroundstationError`` for what can't be."""
    language = language_of(request.language, _station(request))
    with speaking(language):
        return _worked(request, language)


def _worked(request: PlanRequest, language: str) -> Worked:
    flight = _flight(request)
    request = _with_forecast(request, flight)
    plan = planned(flight)
    used_pa, short = None, ""
    if flight.cylinder is not None:
        try:
            used_pa = pressure_used_pa(
                flight.cylinder, plan.lift.volume_m3, flight.gas.kind, plan.balloon.air
            )
        except OutOfModelRangeError:
            has = volume_of(flight.cylinder, flight.gas.kind, plan.balloon.air)
            short = _(
                "the cylinder gives {has}, and {needed} are needed; take a fuller or a second one",
                has=flight.shown.text("volume", has),
                needed=flight.shown.text("volume", plan.lift.volume_m3),
            )
    expected = plan_settings(plan)
    past = past_of(flight) if request.past is None else tuple(_past(request.past, flight))
    settings = narrowed(expected, past)
    learned = list(what_was_learned(expected, settings, past, flight.shown)) if past else []
    source = request.past or flight.lessons
    if source is not None and not past:
        learned.append(
            _(
                "{file} holds no whole flight of this payload at about this mass, so the plan takes"
                " nothing from it",
                file=source,
            )
        )
    elif past and source == flight.lessons:
        learned.append(_("taken for the landing; the fill and the gear are as planned"))
    elif past:
        learned.append(
            _(
                "taken for the landing; the fill and the gear are as planned; a station expects it,"
                " too, where the flight file names it as lessons"
            )
        )
    keep_outs = None if request.keep_out is None else read_keep_outs(request.keep_out)
    notes = list(_unused(request))
    if keep_outs is not None:
        notes += far_keep_outs(keep_outs, flight)
    flown: tuple[Flown, ...] = ()
    compared: tuple[Flown, ...] = ()
    if request.winds:
        launch_utc = launch_moment(request.launch or flight.launch, flight.zone)
        field = read_field(request.winds, launch_utc, request.winds_sd_ms)
        notes += far_winds(field, flight)
        terrain = None if request.terrain is None else Tiles(request.terrain)
        hours = request.hours or 0
        flown = tuple(launches(flight, plan, settings, field, launch_utc, terrain, hours))
        compared = tuple(sites(flight, settings, field, launch_utc))
    return Worked(
        flight=flight,
        plan=plan,
        used_pa=used_pa,
        short=short,
        settings=settings,
        asked_hours=request.hours or 0,
        learned=tuple(learned),
        launches=flown,
        sites=compared,
        keep_outs=keep_outs,
        notes=tuple(notes),
        language=language,
        town=_town(request, flown),
    )


def write(request: PlanRequest, worked: Worked) -> None:
    """The notice and the page, where they are asked for."""
    if request.notice is None and request.brief is None:
        return
    if not worked.launches:
        raise ConfigurationError("a notice and a brief tell where it goes: give --winds")
    with speaking(worked.language):
        _write(request, worked)


def _write(request: PlanRequest, worked: Worked) -> None:
    flight, plan, first = worked.flight, worked.plan, worked.launches[0]
    if request.notice is not None:
        lines = notice_lines(flight, plan, first.forecast, first.course)
        printed = request.notice.suffix in (".html", ".htm")
        text = notice_html(flight.name, lines) if printed else notice_text(lines) + "\n"
        write_text(request.notice, text)
    if request.brief is not None:
        names, box = _places(request), box_of(first.forecast, first.course)
        areas = () if worked.keep_outs is None else worked.keep_outs.kept
        html = brief_html(
            flight,
            plan,
            first.forecast,
            first.course,
            weighed_of(worked),
            [(area.name, area.parts, area.half_width_m) for area in areas],
            [*filter(None, [worked.short]), *warnings(flight, plan), *worked.notes],
            rules.CAUTION,
            fouled=first.fouled,
            others=list(_others(worked)),
            keep_outs="" if worked.keep_outs is None else worked.keep_outs.words,
            towns=[] if worked.town is None else [worked.town],
            around=names.within(box, AROUND),
            ground=World().around(box),
        )
        write_text(request.brief, html)


def _places(request: PlanRequest) -> Places:
    station = _station(request)
    return known_places(None if station is None else station.station.prepared.root)


def _station(request: PlanRequest) -> StationSettings | None:
    return None if request.config is None else configuration.load(request.config, os.environ)


def _town(request: PlanRequest, launches: Sequence[Flown]) -> NamedPlace | None:
    for launch in launches[:1]:
        landing = launch.forecast.landing
        return _places(request).nearest(landing.latitude_deg, landing.longitude_deg)
    return None


def _others(worked: Worked) -> Iterator[str]:
    """The other hours and sites that were asked for, in words."""
    flight = worked.flight
    for candidate in (*worked.launches[1:], *worked.sites):
        landing, shares = candidate.forecast.landing, kept_out_of(worked, candidate.forecast)
        away, _bearing = distance_bearing(
            candidate.site.latitude_deg, candidate.site.longitude_deg,
            landing.latitude_deg, landing.longitude_deg,
        )  # fmt: skip
        place = f"{landing.latitude_deg:.3f}, {landing.longitude_deg:.3f}"
        line = _(
            "{site}, {when}: {place}, {distance} away, within {radius} (90 %)",
            site=candidate.site.name,
            when=launch_text(candidate.forecast.launch_utc, flight.zone),
            place=place,
            distance=flight.shown.text("distance", away),
            radius=flight.shown.text("distance", landing.radius_90_m),
        )
        if shares is not None:
            line += ", " + _("{share} where it must not", share=percent(shares.any))
        yield line


def weighed_of(worked: Worked) -> tuple[Weighed, ...]:
    """The person's own limits, of the first launch."""
    first = worked.launches[0]
    return weighed(
        worked.flight, first.forecast, first.course.met, kept_out_of(worked, first.forecast)
    )


def follows_of(worked: Worked) -> tuple[str, ...]:
    """What follows from the rules, for the first launch where that is known."""
    if not worked.launches:
        return tuple(rules.what_follows(worked.flight))
    first = worked.launches[0]
    return tuple(rules.what_follows(worked.flight, first.course, first.forecast.launch_utc))


def kept_out_of(worked: Worked, flown: Forecast) -> KeptOutShares | None:
    """None without keep-outs."""
    if worked.keep_outs is None:
        return None
    scatter = flown.scatter
    anywhere = np.zeros(scatter.x_m.shape, dtype=bool)
    each: dict[str, np.ndarray] = {}
    for area in worked.keep_outs.kept:
        hit = area.holds(scatter.plane, scatter.x_m, scatter.y_m)
        each[area.name] = each.get(area.name, np.zeros_like(hit)) | hit
        anywhere |= hit
    shares = {name: float(hit.mean()) for name, hit in each.items() if hit.any()}
    return KeptOutShares(each=shares, any=float(anywhere.mean()))


def _flight(request: PlanRequest) -> FlightFile:
    """With the station's units and time zone where it does not name its own."""
    flight = read_flight(request.flight)
    station = _station(request)
    if station is None:
        return flight
    return replace(
        flight,
        timezone=flight.timezone or station.station.timezone,
        units=flight.units or station.station.units,
    )


def _with_forecast(request: PlanRequest, flight: FlightFile) -> PlanRequest:
    """Where no winds are given, those that the station keeps for the day, or that it asks for."""
    when = request.launch or flight.launch
    if request.fetch and (request.config is None or when is None or request.winds):
        raise ConfigurationError(
            "--fetch needs --config, which tells whom to ask, and a launch time; and no --winds"
        )
    if request.winds or request.config is None or when is None:
        return request
    launch_utc = launch_moment(when, flight.zone)
    path = configuration.load(request.config, os.environ).station.prepared.forecast
    if request.fetch:
        end_utc = launch_utc + 3600.0 * (request.hours or 0) + FLIGHT_S
        path, line = fetch_forecast(request.config, launch_utc, end_utc)
        print(line, file=sys.stderr)
    elif not path.is_file() or not reaches(path, launch_utc):
        return request
    return replace(request, winds=(path,))


def _past(path: Path, flight: FlightFile) -> Iterator[PastFlight]:
    """The flights of this payload in a station's database or a file of lessons. Raises
    ``StoreError`` or ``ConfigurationError``."""
    if not is_database(path):
        lessons = like(read_lessons(path), flight.name, flight.payload_kg)
        yield from (lesson.flight for lesson in lessons)
        return
    with Reader(path) as reader:
        fixes = [fix for _, fix in reader.fixes(flight.name)]
        heights = beside_no_fix(reader.heights(flight.name), fixes)
        heard: list[Fix | Height] = [*fixes, *heights]
        heard.sort(key=lambda fix: fix.time_utc)
        yield from past_flights(reader.phases(flight.name), heard)


def _unused(request: PlanRequest) -> Iterator[str]:
    if not request.winds:
        yield from unused(
            {
                "--keep-out": request.keep_out,
                "--sweep": request.hours,
                "--terrain": request.terrain,
                "--launch": request.launch,
            }
        )
