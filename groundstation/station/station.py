"""The station, wired: sources, pipeline, estimator, outbox and page, in one task group."""

import asyncio
import logging
from collections.abc import Callable, Collection, Mapping
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from groundstation.alerts.delivery import deliver_forever
from groundstation.alerts.phones import Phones
from groundstation.alerts.targets import build_targets, patience_of
from groundstation.clock import Clock, RehearsalClock
from groundstation.config import (
    StationIdentity,
    StationSettings,
    flight_settings,
    places_of,
    terrain_of,
    wording_settings,
)
from groundstation.decoders.build import build_decoder
from groundstation.decoders.decoder import Decoder
from groundstation.errors import StoreError
from groundstation.flight.flights import Flights
from groundstation.geo.hazards import read_hazards
from groundstation.publish.friends import Telling
from groundstation.publish.friends_publisher import FriendsPublisher
from groundstation.publish.publisher import Publisher
from groundstation.recordings.read_any import read_recording
from groundstation.records import Phase
from groundstation.sources.build import backoff_of, build_source
from groundstation.sources.health import HealthRecorder
from groundstation.sources.pace import Pace
from groundstation.sources.recording_source import RecordingSettings
from groundstation.sources.supervisor import supervise
from groundstation.station.before_launch import BeforeLaunch
from groundstation.station.core import Core
from groundstation.station.forecast_keeper import ForecastKeeper
from groundstation.station.notices import Notices
from groundstation.station.overview import Overview
from groundstation.station.report_desk import Reports, WriteReport
from groundstation.station.search_desk import Search
from groundstation.station.sighting_desk import Sightings
from groundstation.station.systemd import notify
from groundstation.station.telemetry_desk import Telemetry
from groundstation.store.reader import Reader
from groundstation.store.salvage import set_aside_if_damaged
from groundstation.store.snapshots import ENDING, load
from groundstation.store.upkeep import back_up
from groundstation.store.writer import Store
from groundstation.web.server import Desks, serve

if TYPE_CHECKING:
    from groundstation.alerts.phone_target import PhoneDesk

log = logging.getLogger(__name__)

DATABASE_NAME = "station.db"
REHEARSAL_NAME = "rehearsal.db"
SHARES_NAME = "shared-links.json"
"""Rehearsals are kept apart: none of them may ever stand among real flights."""

OUTBOX_LOOK_S = 2.0  # own choice: figures on the page, and the hurry of sources, need no more
LEAST_TICK_S = 0.05  # own choice: more often in a rehearsal would leave no time for the packets
STALLED_S = 30.0  # own choice: several times the longest batch on a slow board
UPKEEP_LOOK_S = 60.0  # own choice: copies and room are matters of hours
TIDY_EVERY_S = 3_600.0  # own choice: noise of an hour is little beside a disk
UPKEEP_FIRST_S = 600.0
"""Not in the first minutes, which may be those after a power cut in flight."""


async def run_station(
    settings: StationSettings,
    clock: Clock,
    *,
    ready: Callable[[str], None] = lambda _address: None,
    report: WriteReport | None = None,
) -> None:
    """Run until cancelled. ``ready`` gets the page's address once all of it is up; ``report``
    writes what the page is asked for after a flight.

    Raises ``StoreError`` when the disk fails and ``ConfigurationError`` for a port that is taken:
    both end the station, so that whoever started it sees.
    """
    targets = await build_targets(settings.target)
    decoders = await asyncio.to_thread(_decoders, settings)
    flights = Flights(
        await asyncio.to_thread(flight_settings, settings, clock.now_utc()), settings.vehicle
    )
    wording = replace(
        wording_settings(settings, map(flights.settings, flights.payloads)),
        rehearsal=clock.rehearsal,
    )
    path = database(settings, clock)
    path.parent.mkdir(parents=True, exist_ok=True)
    phones = await asyncio.to_thread(open_desk, settings)
    friends = await asyncio.to_thread(_friends, settings, clock, flights)
    salvaged = await asyncio.to_thread(set_aside_if_damaged, path, clock.now_utc())
    async with Store.open(
        path,
        [target.name for target in targets],
        lifeboat=True,
        patience=patience_of(settings.target, settings.station.timezone),
    ) as store:
        health = {
            source.name: HealthRecorder(source.name, source.kind, clock)
            for source in settings.source
        }
        core = Core.of(
            flights=flights,
            decoders=decoders,
            store=store,
            wording=wording,
            clock=clock,
            deaf=lambda: frozenset(name for name, recorder in health.items() if recorder.is_deaf),
        )
        search = Search(flights, store, clock)
        pace = Pace()
        sources = [build_source(source, clock, pace) for source in settings.source]
        before = BeforeLaunch(flights, clock)
        overview = Overview(
            settings, clock, core, health, salvaged, search.found, if_launched=before.landing
        )
        async with asyncio.TaskGroup() as tasks:
            tasks.create_task(_work(core, search), name="pipeline")
            tasks.create_task(core.snapshots.run(), name="snapshots")
            tasks.create_task(_tick_forever(core, clock, health.values()), name="clock")
            tasks.create_task(core.estimator.run(core.pipeline.put_estimate), name="estimator")
            tasks.create_task(
                deliver_forever(store, targets, joining=phones, word=core.telling.render),
                name="outbox",
            )
            tasks.create_task(_look_at_outbox(path, overview), name="outbox figures")
            tasks.create_task(_watchdog(core, clock), name="watchdog")
            notices = Notices(
                settings.watch, settings.station.name, clock, overview, core.telling.say
            )
            tasks.create_task(notices.run(), name="notices")
            tasks.create_task(before.run(), name="before the launch")
            tasks.create_task(_keep_pace(flights, pace), name="pace")
            if not clock.rehearsal:

                def forecast_trouble(text: str) -> None:
                    overview.forecast_trouble = text

                keeper = ForecastKeeper(settings, flights, clock, forecast_trouble)
                tasks.create_task(keeper.run(), name="forecast")
                tasks.create_task(_upkeep(settings.station, store, clock), name="upkeep")

            if settings.publish is not None:
                prefix = settings.publish.prefix
                if clock.rehearsal:
                    prefix = f"rehearsal/{prefix}"
                publisher = Publisher(
                    replace(settings.publish, prefix=prefix),
                    path,
                    lambda: [flights.state(payload) for payload in flights.payloads],
                )
                tasks.create_task(publisher.run(), name="publisher")

            if friends is not None:
                tasks.create_task(friends.run(), name="page for friends")

            def up(address: str) -> None:
                notify("READY=1")
                ready(address)

            desks = await asyncio.to_thread(_desks, settings, search, clock)
            desks = replace(
                desks,
                phones=phones,
                telemetry=Telemetry(flights, path, clock),
                sightings=Sightings(flights, core.pipeline, clock),
            )
            if report is not None:
                reports = Reports(settings, path, flights, clock, report)
                desks = replace(desks, reports=reports)
            serving = serve(
                settings.web,
                overview.snapshot,
                acknowledge=core.telling.acknowledge,
                desks=desks,
                ready=up,
            )
            tasks.create_task(serving, name="page")
            for source, source_settings in zip(sources, settings.source, strict=True):
                tasks.create_task(
                    supervise(
                        source, core.pipeline.put, health[source.name], backoff_of(source_settings)
                    ),
                    name=f"source {source.name}",
                )


def database(settings: StationSettings, clock: Clock) -> Path:
    """The file that a station with this clock writes."""
    return settings.station.data_dir / (REHEARSAL_NAME if clock.rehearsal else DATABASE_NAME)


def open_desk(settings: StationSettings) -> "PhoneDesk | None":
    """The phones that are told; None where that is not set."""
    if settings.phones is None:
        return None
    # Keys and their library are loaded only where phones may ask to be told.
    from groundstation.alerts.phone_target import PhoneDesk  # noqa: PLC0415

    phones = Phones(settings.station.data_dir, [target.name for target in settings.target])
    return PhoneDesk(settings.phones, phones, settings.station.timezone)


def _friends(settings: StationSettings, clock: Clock, flights: Flights) -> FriendsPublisher | None:
    if settings.friends is None:
        return None
    title = settings.friends.title or settings.station.name
    telling = Telling(settings.friends, title, rehearsal=clock.rehearsal)
    return FriendsPublisher(
        settings.friends,
        telling,
        clock.now_utc,
        lambda: [flights.state(payload) for payload in flights.payloads],
    )


def _decoders(settings: StationSettings) -> Mapping[str, Decoder]:
    found: dict[str, Decoder] = {}
    for source_settings in settings.source:
        if source_settings.decoder is not None:
            found[source_settings.name] = build_decoder(source_settings.decoder)
        elif isinstance(source_settings, RecordingSettings):
            found[source_settings.name] = read_recording(source_settings.path).decoder
    return found


def _desks(settings: StationSettings, search: Search, clock: Clock) -> Desks:
    terrain = terrain_of(settings)
    hazards = settings.map.hazards
    return Desks(
        search=search,
        rehearsal=clock if isinstance(clock, RehearsalClock) else None,
        maps=settings.map,
        prepared=settings.station.prepared.root,
        terrain_credit=settings.station.prepared.whom("terrain"),
        heights=None if terrain is None else terrain.heights_m,
        towns=places_of(settings),
        contact=settings.station.contact,
        hazards=() if hazards is None else read_hazards(hazards),
        shares=settings.station.data_dir / SHARES_NAME,
    )


async def _restored(core: Core, search: Search) -> None:
    """Go on from what the disk holds; a disk that fails is no reason not to fly."""
    try:
        with Reader(core.store.path) as reader:
            snapshot = await asyncio.to_thread(load, core.store.path.with_suffix(ENDING))
            await core.restoring.restore(
                reader, snapshot=snapshot, keep=core.snapshots.keep_as_it_stands
            )
            search.restore(reader)
    except StoreError as error:
        if not core.store.standing.trouble:
            raise
        log.error("what was stored before can't be read, and is not gone on from: %s", error)


async def _work(core: Core, search: Search) -> None:
    """Go on from where it was, and then with what has come in the meantime."""
    await _restored(core, search)
    await core.pipeline.run()


async def _tick_forever(core: Core, clock: Clock, health: Collection[HealthRecorder]) -> None:
    """Tell the flights the time, about once a station second."""
    told_utc = float("-inf")
    while True:
        speed = clock.speed
        await asyncio.sleep(min(max(1.0 / speed, LEAST_TICK_S), 1.0) if speed else 1.0)
        now_utc = clock.now_utc()
        if clock.rehearsal:
            # What a machine that hesitates has not yet read of a recording was no silence.
            awaited = [source.awaited_utc for source in health]
            heard_utc = min([now_utc, *(utc for utc in awaited if utc is not None)])
            now_utc = told_utc = max(told_utc, heard_utc)
        await core.pipeline.tick(now_utc)


async def _look_at_outbox(path: Path, overview: Overview) -> None:
    """Refresh the outbox figures now and then, off the event loop."""

    def look() -> None:
        # A disk that fails is told by the store.
        with suppress(StoreError), Reader(path) as reader:
            overview.outbox = reader.outbox_counts()

    while True:
        await asyncio.to_thread(look)
        await asyncio.sleep(OUTBOX_LOOK_S)


async def _upkeep(settings: StationIdentity, store: Store, clock: Clock) -> None:
    """Copy the database and make room in it, at intervals; a failure is logged and tried again."""
    copy_s = tidy_s = clock.monotonic_s() + UPKEEP_FIRST_S
    while True:
        await asyncio.sleep(UPKEEP_LOOK_S)
        if settings.tidy_after_s is not None and clock.monotonic_s() >= tidy_s:
            tidy_s = clock.monotonic_s() + TIDY_EVERY_S
            await store.tidy(clock.now_utc() - settings.tidy_after_s)
        if settings.backup_dir is None or clock.monotonic_s() < copy_s:
            continue
        copy_s = clock.monotonic_s() + settings.backup_every_s
        try:
            await asyncio.to_thread(
                back_up, store.path, settings.backup_dir, clock.now_utc(), settings.backups
            )
        except StoreError as error:
            log.error("%s", error)


async def _keep_pace(flights: Flights, pace: Pace) -> None:
    """Tell sources that ask at intervals when something falls."""
    while True:
        phases = [flights.state(payload).motion.phase for payload in flights.payloads]
        pace.hurried = Phase.DESCENT in phases
        await asyncio.sleep(OUTBOX_LOOK_S)


async def _watchdog(core: Core, clock: Clock) -> None:
    """Tell the service manager that it lives, only while the pipeline really moves."""
    while True:
        if clock.monotonic_s() - core.folding.moved_s < STALLED_S:
            notify("WATCHDOG=1")
        await asyncio.sleep(STALLED_S / 6)
