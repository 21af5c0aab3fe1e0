"""The configuration of a station, read from TOML."""

import logging
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

from groundstation.alerts.base_watch import WatchSettings
from groundstation.alerts.phones import PhonesSettings
from groundstation.alerts.targets import TargetSettings, TerminalSettings
from groundstation.alerts.wording import OPEN_MAP, WordingSettings
from groundstation.clock import SystemClock
from groundstation.decoders.build import build_decoder
from groundstation.errors import (
    ConfigurationError,
    GroundstationError,
    InputFileError,
    OutOfModelRangeError,
)
from groundstation.flight.roster import plain_id
from groundstation.flight.settings import (
    AlertSettings,
    BaseSettings,
    FlightSettings,
    KeepOut,
    PlanSettings,
    TrackerSettings,
    VehicleSettings,
)
from groundstation.geo.keep_outs import read_keep_outs
from groundstation.geo.places import Places, known_places
from groundstation.language.catalogue import SOURCE, languages
from groundstation.physics.wind import WindsAloft
from groundstation.planning.flight_file import read_flight
from groundstation.planning.flight_winds import WindFiles, winds_met
from groundstation.planning.forecast import expected
from groundstation.planning.launch_time import launch_moment
from groundstation.planning.spread import planned
from groundstation.planning.windfield import WindField
from groundstation.prepare.folder import Prepared
from groundstation.prepare.settings import PrepareSettings
from groundstation.publish.friends import FriendsSettings
from groundstation.publish.settings import PublishSettings
from groundstation.records import Fix, Place
from groundstation.settings.builder import RESOURCES, SettingsBuilder
from groundstation.sources.build import SourceSettings, build_source
from groundstation.units import Units
from groundstation.weather.inputs import LandingInputs, open_terrain, open_winds
from groundstation.weather.terrain import Tiles
from groundstation.web.settings import MapSettings, WebSettings

log = logging.getLogger(__name__)

REHEARSALS: Final = {
    "normal": RESOURCES / "default.toml",
    "messenger": RESOURCES / "messenger.toml",
}
"""The configuration of each flight that comes with the program. Its ``data_dir`` is not used."""

AnyTargetSettings = TargetSettings | TerminalSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class StationIdentity:
    """What the station is called, where it keeps its data, and how it speaks.

    ``contact`` is what a finder is asked to call. ``timezone`` is a name such as "Europe/Budapest";
    ``map_link`` and ``touch_link`` are those of ``WordingSettings``. The newest ``backups`` copies
    of the database are kept in ``backup_dir``, made every ``backup_every_s``. Frames that are of no
    flight are removed after ``tidy_after_s``; None keeps them.
    """

    name: str = "groundstation"
    contact: str = ""
    data_dir: Path
    timezone: str = "UTC"
    units: Units = Units.METRIC
    language: str = SOURCE
    map_link: str = OPEN_MAP
    touch_link: str = ""
    backup_dir: Path | None = None
    backup_every_s: float = 86_400.0
    backups: int = 3
    tidy_after_s: float | None = None

    @property
    def prepared(self) -> Prepared:
        """What ``prepare`` fetched."""
        return Prepared(self.data_dir / "prepared")

    def __post_init__(self) -> None:
        if self.language not in languages():
            raise ConfigurationError(f"language is one of {', '.join(languages())}")
        if self.backup_every_s < 600.0 or self.backups < 1:
            raise ConfigurationError("backup_every_s is at least 10 min, and backups at least 1")
        if self.tidy_after_s is not None and self.tidy_after_s < 86_400.0:
            raise ConfigurationError("tidy_after_s is at least one day")
        WordingSettings(timezone=self.timezone, map_link=self.map_link, touch_link=self.touch_link)


@dataclass(frozen=True, slots=True, kw_only=True)
class PayloadSettings:
    """A payload, by what name alerts call it, and its trackers.

    ``ground_m`` is the height of the landing ground, where it is not that of the launch. ``flight``
    is a flight file, whose plan takes the place of ``plan``.
    """

    name: str
    tracker: tuple[TrackerSettings, ...]
    plan: PlanSettings = field(default_factory=PlanSettings)
    alerts: AlertSettings = field(default_factory=AlertSettings)
    ground_m: float | None = None
    flight: Path | None = None

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise ConfigurationError("name is empty; give the payload one")
        if not self.tracker:
            raise ConfigurationError(f"payload {self.name!r} has no tracker; add one")
        for tracker in self.tracker:
            if not tracker.interval_s > 0.0:
                raise ConfigurationError(f"interval_s of tracker {tracker.id!r} must be above 0")
        plan = self.plan
        for name in ("burst_altitude_m", "ascent_rate_ms", "descent_rate_ms"):
            value = getattr(plan, name)
            if value is not None and not value > 0.0:
                raise ConfigurationError(f"plan.{name} must be above 0")
        for name in ("burst_altitude_sd_m", "ascent_rate_sd_ms", "descent_rate_sd_ms"):
            if not getattr(plan, name) > 0.0:
                raise ConfigurationError(f"plan.{name} must be above 0")


@dataclass(frozen=True, slots=True, kw_only=True)
class StationSettings:
    """All of it. Arrays are named as they are in the file: in the singular."""

    station: StationIdentity
    base: BaseSettings | None = None
    payload: tuple[PayloadSettings, ...]
    source: tuple[SourceSettings, ...]
    target: tuple[AnyTargetSettings, ...] = ()
    phones: PhonesSettings | None = None
    vehicle: tuple[VehicleSettings, ...] = ()
    web: WebSettings = field(default_factory=WebSettings)
    landing: LandingInputs = field(default_factory=LandingInputs)
    map: MapSettings = field(default_factory=MapSettings)
    prepare: PrepareSettings = field(default_factory=PrepareSettings)
    publish: PublishSettings | None = None
    friends: FriendsSettings | None = None
    watch: WatchSettings = field(default_factory=WatchSettings)


def load(path: Path | None, env: Mapping[str, str], rehearsal: str = "normal") -> StationSettings:
    """Read the configuration at ``path``, or that of a ``rehearsal`` by name.

    A rehearsal keeps its data in a new temporary folder, which the caller may remove. Raises
    ``ConfigurationError`` that holds all problems found, one a line.
    """
    file = REHEARSALS[rehearsal] if path is None else path
    try:
        text = file.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise ConfigurationError(
            f"cannot read the configuration {file}: {error.strerror}"
        ) from error
    except UnicodeDecodeError as error:
        raise ConfigurationError(f"{file} is not UTF-8 text: {error.reason}") from error
    builder = SettingsBuilder(text, name=str(file), folder=file.absolute().parent, env=env)
    settings = builder.build(StationSettings)
    _cross_check(settings, builder)
    builder.raise_problems()
    if path is None:
        folder = Path(tempfile.mkdtemp(prefix="groundstation-"))
        settings = replace(settings, station=replace(settings.station, data_dir=folder))
    return settings


def flight_settings(
    settings: StationSettings, near_utc: float | None = None
) -> tuple[FlightSettings, ...]:
    """The payloads as the flight logic sees them, with terrain and winds aloft opened.

    ``near_utc`` is the day whose winds are wanted. Raises ``ConfigurationError``.
    """
    terrain = terrain_of(settings)
    aloft = winds_of(settings, near_utc or 0.0, {})
    keep_outs = tuple(_keep_outs(settings.landing.keep_out))
    return tuple(
        FlightSettings(
            payload=payload.name,
            trackers=payload.tracker,
            plan=_plan(payload, aloft[payload.name], near_utc),
            alerts=payload.alerts,
            base=settings.base,
            ground_m=payload.ground_m,
            terrain=terrain,
            aloft=aloft[payload.name],
            keep_outs=keep_outs,
            launch_utc=_launch_utc(payload),
            launch_site=_launch_site(payload),
        )
        for payload in settings.payload
    )


def terrain_of(settings: StationSettings) -> Tiles | None:
    """That of the configuration, else what ``prepare`` fetched. Raises ``ConfigurationError``."""
    prepared = settings.station.prepared.terrain
    if settings.landing.terrain is None and any(prepared.glob("*.hgt")):
        return Tiles(prepared)
    return open_terrain(settings.landing)


def winds_of(
    settings: StationSettings, near_utc: float, launched: Mapping[str, Fix | None]
) -> dict[str, WindsAloft | None]:
    """What each payload's flight meets, by the place and time of its plan; None where no winds are
    known, or those of another day. Raises ``ConfigurationError``."""
    landing, prepared = settings.landing, settings.station.prepared
    try:
        field = WindFiles(
            given=landing.winds, given_sd_ms=landing.winds_sd_ms, fetched=prepared.forecast,
            whom=prepared.whom("forecast"),
        ).field(near_utc)  # fmt: skip
    except InputFileError as error:
        raise ConfigurationError(f"landing.winds: {error}") from error
    return {
        payload.name: None if field is None else _met(settings, payload, field, near_utc, launched)
        for payload in settings.payload
    }


def _met(
    settings: StationSettings,
    payload: PayloadSettings,
    field: WindField,
    near_utc: float,
    launched: Mapping[str, Fix | None],
) -> WindsAloft | None:
    flight = None if payload.flight is None else read_flight(payload.flight)
    try:
        return winds_met(
            field,
            payload.plan if flight is None else expected(flight),
            max(_launch_utc(payload) or near_utc, near_utc),
            launch=launched.get(payload.name),
            site=None if flight is None else flight.site,
            base=settings.base,
        )
    except OutOfModelRangeError as error:
        if settings.landing.winds is not None:
            return open_winds(settings.landing, near_utc)
        log.warning("%s: the forecast is not used: %s", payload.name, error)
        return None


def site_of(settings: StationSettings) -> tuple[float, float]:
    """Of the launch by the first flight file, else of base. Raises ``ConfigurationError``."""
    for payload in settings.payload:
        if payload.flight is not None:
            site = read_flight(payload.flight).site
            return site.latitude_deg, site.longitude_deg
    if settings.base is not None:
        return settings.base.latitude_deg, settings.base.longitude_deg
    raise ConfigurationError(
        "there is no place to prepare for: give a flight file (flight under [[payload]]) or [base]"
    )


def _keep_outs(path: Path | None) -> Iterator[KeepOut]:
    if path is None:
        return
    found = read_keep_outs(path)
    log.info("%s", found.summary)
    for area in found.kept:
        rings = tuple(tuple((lat, lon) for lon, lat in part.tolist()) for part in area.parts)
        yield KeepOut(name=area.name, rings=rings, half_width_m=area.half_width_m)


def _launch_utc(payload: PayloadSettings) -> float | None:
    flight = None if payload.flight is None else read_flight(payload.flight)
    if flight is None or flight.launch is None:
        return None
    return launch_moment(flight.launch, flight.zone)


def _launch_site(payload: PayloadSettings) -> Place | None:
    if payload.flight is None:
        return None
    site = read_flight(payload.flight).site
    return Place(
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
        altitude_m=site.altitude_m,
    )


def _plan(
    payload: PayloadSettings, aloft: WindsAloft | None, near_utc: float | None
) -> PlanSettings:
    if payload.flight is None:
        return payload.plan
    flight = read_flight(payload.flight)
    try:
        return expected(flight, aloft, near_utc or 0.0)
    except OutOfModelRangeError as error:
        log.warning("%s: no planned landing to hold the flight against: %s", payload.name, error)
        return expected(flight)


def places_of(settings: StationSettings) -> Places:
    """Towns of the world, and the villages that ``prepare`` fetched. Raises
    ``ConfigurationError``."""
    try:
        return known_places(settings.station.prepared.root)
    except InputFileError as error:
        raise ConfigurationError(str(error)) from error


def wording_settings(
    settings: StationSettings, flights: Iterable[FlightSettings] = ()
) -> WordingSettings:
    """How this station words its messages about these flights."""
    station = settings.station
    return WordingSettings(
        units=station.units,
        timezone=station.timezone,
        base=settings.base,
        map_link=station.map_link,
        touch_link=station.touch_link,
        planned={flight.payload: flight.plan.landing for flight in flights},
        namer=places_of(settings).nearest,
    )


def _cross_check(settings: StationSettings, builder: SettingsBuilder) -> None:
    for array in ("payload", "source", "target", "vehicle"):
        names = [entry.name for entry in getattr(settings, array)]
        for number in _repeated(names):
            builder.problem(
                (array, number, "name"),
                f"{names[number - 1]!r} is the name of another {array}; give each its own",
            )
    for number, each in enumerate(settings.payload, 1):
        if each.flight is None:
            continue
        try:
            planned(read_flight(each.flight))
        except GroundstationError as error:
            builder.problem(("payload", number, "flight"), str(error))
    for array in ("payload", "source"):
        if not getattr(settings, array):
            builder.problem((array,), f"there is no [[{array}]]; add one")
    places = [
        (payload, tracker)
        for payload, payload_settings in enumerate(settings.payload, 1)
        for tracker in range(1, len(payload_settings.tracker) + 1)
    ]
    ids = [tracker.id for payload in settings.payload for tracker in payload.tracker]
    for number in _repeated([plain_id(tracker_id) for tracker_id in ids]):
        payload, tracker = places[number - 1]
        builder.problem(
            ("payload", payload, "tracker", tracker, "id"),
            f"{ids[number - 1]!r} is given twice; a tracker belongs to one payload, once",
        )
    known = {plain_id(tracker_id) for tracker_id in ids}
    for number, vehicle in enumerate(settings.vehicle, 1):
        for tracker_id in vehicle.tracker:
            if plain_id(tracker_id) in known:
                builder.problem(
                    ("vehicle", number, "tracker"),
                    f"{tracker_id!r} is given twice; a tracker belongs to one vehicle or payload",
                )
            known.add(plain_id(tracker_id))
    for number, source in enumerate(settings.source, 1):
        try:
            build_source(source, SystemClock())
        except ConfigurationError as error:
            builder.problem(("source", number), str(error))
        if source.decoder is None:
            continue
        try:
            build_decoder(source.decoder)
        except ConfigurationError as error:
            builder.problem(("source", number, "decoder"), str(error))


def _repeated(names: Iterable[str]) -> list[int]:
    """Numbers, from 1, of those that came before."""
    seen: Counter[str] = Counter()
    repeated = []
    for number, name in enumerate(names, 1):
        if seen[name]:
            repeated.append(number)
        seen[name] += 1
    return repeated
