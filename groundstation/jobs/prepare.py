"""What the prepare command does: bring what a day without a network needs, and say what it was."""

import math
import os
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from groundstation import config as configuration
from groundstation.config import StationSettings
from groundstation.errors import GroundstationError, OutOfModelRangeError
from groundstation.geo.places import VILLAGES, known_places
from groundstation.jobs.files import write_text
from groundstation.physics.geodesy import distance_m
from groundstation.planning.course import course
from groundstation.planning.flight_file import read_flight
from groundstation.planning.forecast import plan_settings
from groundstation.planning.launch_time import launch_moment
from groundstation.planning.read_field import read_field
from groundstation.planning.settings import FlightFile
from groundstation.planning.spread import planned
from groundstation.prepare import forecast, map_region, services, terrain, villages
from groundstation.prepare.download import FetchError
from groundstation.prepare.record import fetched_from, keep, read_record, size_of
from groundstation.prepare.region import Region
from groundstation.weather.profile_file import profile_text
from groundstation.weather.winds import read_all_winds

AHEAD_S: Final = 72 * 3_600.0
"""How far the forecast reaches where no launch is known; own choice: beyond it is off too far."""

FLIGHT_S: Final = 6 * 3_600.0  # own choice: of the longest usual flight
SWEEP_S: Final = 6 * 3_600.0  # own choice: as often as models run
MARGIN_M: Final = 25_000.0
"""Around the planned landings: nine tenths of a forecast's miss of a day before (own choice)."""

LEAST_M: Final = 30_000.0  # own choice: the way there is looked at too
OLD_S: Final = 12 * 3_600.0  # own choice: two runs of a model later
PARTS: Final = ("forecast", "terrain", "villages", "map")


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """``only`` names the parts that are wanted; ``radius_m`` takes the place of the plan's."""

    config: Path
    radius_m: float | None = None
    only: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What is prepared, for whom and when."""

    settings: StationSettings
    folder: Path
    flight: FlightFile | None
    site: tuple[float, float]
    begin_utc: float
    end_utc: float
    radius_m: float | None

    @classmethod
    def of(cls, request: Request) -> "Job":
        """Raises ``ConfigurationError`` where no place is known."""
        settings = configuration.load(request.config, os.environ)
        files = [payload.flight for payload in settings.payload if payload.flight is not None]
        flight = read_flight(files[0]) if files else None
        site = configuration.site_of(settings)
        now = time.time()
        begin, end = now, now + AHEAD_S
        if flight is not None and flight.launch is not None:
            launch = launch_moment(flight.launch, flight.zone)
            begin, end = (launch, launch + FLIGHT_S) if launch > now else (now, end)
        folder = settings.station.prepared.root
        folder.mkdir(parents=True, exist_ok=True)
        return cls(
            settings=settings, folder=folder, flight=flight, site=site, begin_utc=begin,
            end_utc=end, radius_m=request.radius_m,
        )  # fmt: skip

    @property
    def forecast(self) -> Path:
        return self.settings.station.prepared.forecast

    def around(self, radius_m: float) -> Region:
        return Region(latitude_deg=self.site[0], longitude_deg=self.site[1], radius_m=radius_m)

    def region(self) -> Region:
        """Around the landings that the plan expects over the hours of the forecast, else the
        radius that is set."""
        if self.radius_m is not None:
            return self.around(self.radius_m)
        away = list(self._landings()) if self.flight is not None and self.forecast.exists() else []
        usual = self.settings.prepare.radius_m
        return self.around(max(LEAST_M, max(away) + MARGIN_M) if away else usual)

    def _landings(self) -> Iterator[float]:
        assert self.flight is not None
        plan = plan_settings(planned(self.flight))
        field = read_field([self.forecast], self.begin_utc)
        for n in range(max(1, math.ceil((self.end_utc - self.begin_utc) / SWEEP_S))):
            try:
                way = course(self.flight.site, plan, field, self.begin_utc + n * SWEEP_S)
            except OutOfModelRangeError:
                return
            _, lat, lon = way.end
            yield distance_m(*self.site, lat, lon)

    def kept(self, what: str, who: services.Service, source: str, region: Region, size: int,
             made_utc: float | None = None) -> str:  # fmt: skip
        """Write it into the record, and say it in a line."""
        fetched = fetched_from(
            what, who, source, region, size_bytes=size, fetched_utc=time.time(), made_utc=made_utc
        )
        keep(self.folder, fetched)
        run = "" if made_utc is None else f", run of {_moment(made_utc)}"
        return (
            f"{what}: {size / 1e6:.1f} MB from {fetched.source}, {fetched.licence}{run}."
            f" {fetched.credit}."
        )


def prepare(request: Request) -> Iterator[str]:
    """A line for each thing that was brought, and why one was not. Goes on where it was stopped.
    Raises ``GroundstationError`` after all else was tried."""
    job = Job.of(request)
    steps: dict[str, Callable[[Job], Iterator[str]]] = {
        "forecast": _forecast, "terrain": _terrain, "villages": _villages, "map": _map,
    }  # fmt: skip
    failed = 0
    for name in request.only or PARTS:
        try:
            yield from steps[name](job)
        except GroundstationError as error:
            failed += 1
            yield f"{name}: not brought: {error}"
    yield f"in {job.folder}; the station of this configuration finds it there"
    if failed:
        raise FetchError(
            "{failed} of {count} could not be brought; call again, what is there stays",
            failed=failed,
            count=len(request.only or PARTS),
        )


def _forecast(job: Job) -> Iterator[str]:
    settings = job.settings.prepare
    asked = forecast.asked_of(settings)
    if not asked.address:
        yield "forecast: none, as set"
        return
    # The plan needs it to know how large the region is.
    region = job.around(job.radius_m or settings.radius_m)
    tables = forecast.fetched(asked, region, job.begin_utc, job.end_utc)
    write_text(job.forecast, profile_text(tables))
    who = services.ENSEMBLE if asked.ensemble else services.FORECAST
    size = job.forecast.stat().st_size
    yield job.kept("forecast", who, asked.address, region, size, tables[0].issued_utc)


def _terrain(job: Job) -> Iterator[str]:
    source = job.settings.prepare.terrain
    if not source or job.settings.landing.terrain is not None:
        yield "terrain: none, as set" if not source else "terrain: that of [landing] is used"
        return
    region, folder = job.region(), job.settings.station.prepared.terrain
    names = terrain.missing(region, folder)
    for n, name in enumerate(names, 1):
        terrain.fetch_tile(source, name, folder, _progress(f"terrain {n} of {len(names)}"))
    yield job.kept("terrain", services.TERRAIN, source, region, size_of(folder, "*.hgt"))


def _villages(job: Job) -> Iterator[str]:
    source = job.settings.prepare.villages
    if not source:
        yield "villages: none, as set"
        return
    region = job.region()
    countries = sorted(known_places().countries(region.box))
    count = villages.fetch_villages(
        source, countries, region.box, job.folder, _progress("villages")
    )
    size = (job.folder / VILLAGES).stat().st_size
    summary = job.kept("villages", services.VILLAGES, source, region, size)
    yield f"{summary} {count:,} of {', '.join(countries)}."


def _map(job: Job) -> Iterator[str]:
    settings = job.settings.prepare
    if not settings.map:
        yield (
            "map: none, because no build is named; set map under [prepare] to the address or file"
            " of a PMTiles build"
        )
        return
    region = job.region()
    source = map_region.Source(settings.map)
    cut = map_region.planned_cut(source, region.box, settings.map_zoom)
    _say(f"map: {cut.size_bytes / 1e6:.0f} MB to fetch\n")
    path = map_region.fetch_cut(source, cut, job.settings.station.prepared.maps, _progress("map"))
    yield job.kept("map", services.MAP, settings.map, region, path.stat().st_size)


def fetch_forecast(config: Path, begin_utc: float, end_utc: float) -> tuple[Path, str]:
    """A forecast for those hours, as ``prepare`` keeps it; its file, and a line on it. Raises
    ``FetchError`` and ``ConfigurationError``."""
    job = replace(Job.of(Request(config=config)), begin_utc=begin_utc, end_utc=end_utc)
    return job.forecast, " ".join(_forecast(job))


def check(request: Request) -> list[str]:
    """What is missing for a flight without a network, a sentence each."""
    job = Job.of(request)
    return list(_missing(job))


def progress(request: Request) -> Iterator[str]:
    """What is there, a line each."""
    job = Job.of(request)
    for fetched in read_record(job.folder).values():
        run = "" if fetched.made_utc is None else f", run of {_moment(fetched.made_utc)}"
        yield (
            f"{fetched.what}: {fetched.size_bytes / 1e6:.1f} MB from {fetched.source},"
            f" {fetched.licence}, fetched {_moment(fetched.fetched_utc)}{run},"
            f" within {fetched.radius_m / 1000.0:.0f} km"
        )


def _missing(job: Job) -> Iterator[str]:
    settings, region = job.settings, job.region()
    now = time.time()
    if settings.landing.winds is None:
        if not job.forecast.exists():
            yield "a forecast of the winds: where it lands is not known before it has climbed"
        else:
            yield from _forecast_missing(job, now)
    if settings.landing.terrain is None:
        names = terrain.missing(region, job.settings.station.prepared.terrain)
        if names:
            some = ", ".join(names[:4]) + (" and more" if len(names) > 4 else "")
            yield f"{len(names)} terrain tiles ({some}): the ground is taken to be as at the launch"
    if not (job.folder / VILLAGES).exists():
        yield "villages: places are told by towns, which may be far"
    maps = [*settings.station.prepared.maps.glob("*.pmtiles")]
    if settings.map.folder is not None:
        maps += settings.map.folder.glob("*.pmtiles")
    if not any(map_region.covers(path, region.box) for path in maps):
        yield "a map of the region: without a network the page shows rivers and towns, no roads"


def reaches(path: Path, launch_utc: float) -> bool:
    """Whether a file of winds has hours before and after. Raises ``InputFileError``."""
    times = [table.time_utc for table in read_all_winds(path) if table.time_utc is not None]
    return bool(times) and min(times) <= launch_utc <= max(times)


def _forecast_missing(job: Job, now: float) -> Iterator[str]:
    tables = read_all_winds(job.forecast)
    if not reaches(job.forecast, job.begin_utc):
        last_utc = max(table.time_utc or 0.0 for table in tables)
        yield f"a forecast of the launch: the one there ends {_moment(last_utc)}"
    issued = tables[0].issued_utc
    if issued is not None and now - issued > OLD_S:
        yield f"a newer forecast: the one there is of {_moment(issued)}"


def _moment(time_utc: float) -> str:
    return f"{datetime.fromtimestamp(time_utc, UTC):%Y-%m-%d %H:%M} UTC"


def _progress(what: str) -> Callable[[int, int | None], None]:
    def show(have: int, total: int | None) -> None:
        of = "" if total is None else f" of {total / 1e6:.1f}"
        _say(f"\r{what}: {have / 1e6:.1f}{of} MB ")

    return show


def _say(text: str) -> None:
    """Where somebody looks on."""
    if sys.stderr.isatty():
        sys.stderr.write(text)
        sys.stderr.flush()
