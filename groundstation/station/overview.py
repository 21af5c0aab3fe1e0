"""One moment of the station, gathered for the page."""

from collections.abc import Callable, Collection, Iterator, Mapping

from groundstation.clock import Clock
from groundstation.config import StationSettings, places_of
from groundstation.flight.alert_records import Message
from groundstation.flight.horizon import signal_loss
from groundstation.flight.roster import plain_id
from groundstation.flight.settings import FlightSettings
from groundstation.flight.state import FlightState, newest_height_m, unplaced
from groundstation.language.catalogue import _
from groundstation.language.numbers import number
from groundstation.physics.geodesy import distance_bearing
from groundstation.records import Landing, Phase
from groundstation.search.found import Found
from groundstation.sources.health import HealthRecorder, SourceHealth
from groundstation.sources.health import SourceState as Health
from groundstation.station import machine
from groundstation.station.core import Core
from groundstation.station.guidance import guidance
from groundstation.station.off_clocks import off_clocks
from groundstation.station.problems import (
    Problem,
    of_floods,
    of_heights,
    of_sources,
    of_targets,
    of_untimed,
)
from groundstation.station.strangers import unheard
from groundstation.store.outbox import TargetFigures
from groundstation.store.salvage import Salvage
from groundstation.store.steady_clock import steady_utc
from groundstation.web.payload_snapshot import (
    BaseSnapshot,
    BurstSnapshot,
    FoundSnapshot,
    HeightAlone,
    IfLaunchedSnapshot,
    LandingSnapshot,
    LastFix,
    LaunchSnapshot,
    PayloadSnapshot,
    PlannedSnapshot,
    SignalLoss,
    TrackerSnapshot,
)
from groundstation.web.sighting_records import SightingTold
from groundstation.web.snapshot import (
    Counts,
    DisplayUnits,
    MessageSnapshot,
    ReceiverSnapshot,
    SourceSnapshot,
    SourceState,
    StationSnapshot,
    TargetSnapshot,
)
from groundstation.web.state_api import vehicle

RATE_OVER_S = 60.0  # own choice: over less, the noise of heights is a rate
# Own choice: enough for some days of packets, so there is time to act.
LITTLE_ROOM_BYTES = 200_000_000
AGREE_S = 120.0  # own choice: a packet is on its way for less, and clocks off are off by more
JUST_NOW_S = 900.0  # own choice: a clock that nothing keeps stays right for so long

_STATE = {
    Health.OPENING: SourceState.STARTING,
    Health.RECEIVING: SourceState.RUNNING,
    Health.QUIET: SourceState.QUIET,
    Health.RETRYING: SourceState.WAITING,
    Health.FINISHED: SourceState.ENDED,
}


class Overview:
    """Makes a ``StationSnapshot`` whenever the page asks; never blocks."""

    def __init__(
        self,
        settings: StationSettings,
        clock: Clock,
        core: Core,
        health: Mapping[str, HealthRecorder],
        salvaged: Salvage | None = None,
        found: Callable[[str], Found | None] = lambda _payload: None,
        real_utc: Callable[[], float] = steady_utc,
        if_launched: Callable[[str], tuple[float, Landing] | None] = lambda _payload: None,
    ) -> None:
        self.outbox: tuple[TargetFigures, ...] = ()
        self.forecast_trouble = ""
        self._settings = settings
        self._clock = clock
        self._core = core
        self._health = health
        self._salvaged = salvaged
        self._found = found
        self._real_utc = real_utc
        self._if_launched = if_launched
        self._towns = places_of(settings)
        self._started_utc = clock.now_utc()

    def snapshot(self) -> StationSnapshot:
        station, base = self._settings.station, self._settings.base
        flights = self._core.flights
        payloads = tuple(self._payload(flights.state(name)) for name in flights.payloads)
        sources = tuple(_source(health.snapshot()) for health in self._health.values())
        return StationSnapshot(
            now_utc=self._clock.now_utc(),
            started_utc=self._started_utc,
            station=station.name,
            rehearsal=self._clock.rehearsal,
            speed=self._clock.speed,
            timezone=station.timezone,
            units=DisplayUnits.METRIC if station.units == "metric" else DisplayUnits.FEET_MILES,
            base=None if base is None else BaseSnapshot.of(base),
            payloads=payloads,
            vehicles=tuple(vehicle(fix, payloads) for fix in flights.vehicles.positions),
            sources=sources,
            targets=self._targets(),
            counts=Counts(
                frames=self._core.pipeline.frames,
                fixes=self._core.pipeline.fixes,
                rejected=dict(sorted(self._core.pipeline.rejected.items())),
            ),
            messages=tuple(
                _message(message, self._core.telling.acknowledged)
                for message in reversed(self._core.telling.messages)
            ),
            unwritten=self._core.store.standing.waiting,
            still_s=self.still_s(),
            disk_free_bytes=machine.free_bytes(station.data_dir),
            disk_written_bytes=machine.written_bytes(),
            memory_bytes=machine.resident_bytes(),
            problems=tuple(problem.text for problem in self.problems()),
        )

    def _packets_agree(self) -> bool:
        """Whether a payload's own clock has just said the same as ours."""
        flights, now = self._core.flights, self._clock.now_utc()
        newest = [flights.state(name).motion.last for name in flights.payloads]
        return any(
            0.0 < fix.received_utc - fix.time_utc < AGREE_S and now - fix.received_utc < JUST_NOW_S
            for fix in newest
            if fix is not None
        )

    def _of_the_machine(self) -> Iterator[Problem]:
        folder = self._settings.station.data_dir
        standing = self._core.store.standing
        if standing.trouble:
            yield Problem(
                _("disk"),
                _(
                    "Nothing can be written to the disk ({trouble}). The flight goes on in memory,"
                    " {steps} steps of it; a power cut would lose them. Make room on the disk, or"
                    " see whether it still works.",
                    trouble=standing.trouble,
                    steps=number(standing.waiting),
                ),
                urgent=True,
            )
        free = machine.free_bytes(folder)
        if free is not None and free < LITTLE_ROOM_BYTES:
            yield Problem(
                _("room"),
                _(
                    "The disk of {folder} has only {size} MB left. Make room before it is full.",
                    folder=folder,
                    size=number(free / 1e6),
                ),
            )
        if not (self._clock.is_kept() or self._packets_agree()):
            yield Problem(
                _("clock"),
                _(
                    "Nothing keeps this machine's clock right, so times of the station may be off."
                    " Those of the flight come from its packets."
                ),
            )
        if self._salvaged is not None:
            yield Problem(
                _("database"),
                _(
                    "The database was damaged and is set aside as {name}; {count} packets of it"
                    " could be read and are gone on from. Keep the file, and look whether the disk"
                    " is failing.",
                    name=self._salvaged.aside.name,
                    count=number(self._salvaged.frames),
                ),
                urgent=True,
            )

    def still_s(self) -> float:
        """Real seconds since the pipeline moved."""
        return self._clock.monotonic_s() - self._core.folding.moved_s

    def problems(self) -> tuple[Problem, ...]:
        """What needs somebody, the worst first."""
        sources = [_source(health.snapshot()) for health in self._health.values()]
        return (
            *self._of_the_machine(),
            *of_sources(sources),
            *of_floods(self._core.pipeline.flood.left_out),
            *of_untimed(self._core.pipeline.untimed.sources),
            *of_heights(self._core.pipeline.high_heights.sources),
            *(Problem(*words) for words in self._unheard()),
            *of_targets(self._targets()),
            *self._of_clocks(),
            *([Problem(_("forecast"), self.forecast_trouble)] if self.forecast_trouble else ()),
        )

    def _of_clocks(self) -> Iterator[Problem]:
        flights = self._core.flights
        for payload in flights.payloads:
            for tracker, text in off_clocks(flights.state(payload)):
                yield Problem(_("clock of {tracker}", tracker=tracker), text)

    def _unheard(self) -> Iterator[tuple[str, str, bool]]:
        return unheard(self._core.flights, self._core.pipeline.strangers, self._clock.now_utc())

    def _targets(self) -> tuple[TargetSnapshot, ...]:
        kinds = {setting.name: setting.kind for setting in self._settings.target}
        return tuple(self._target(row, kinds.get(row.target, "")) for row in self.outbox)

    def _target(self, figures: TargetFigures, kind: str) -> TargetSnapshot:
        next_try = figures.next_try_utc
        return TargetSnapshot(
            name=figures.target,
            kind=kind,
            waiting=figures.pending,
            delivered=figures.delivered,
            expired=figures.expired,
            uncertain=figures.uncertain,
            failures=figures.failed,
            last_delivered_utc=self._station_time(figures.last_delivered_utc),
            oldest_waiting_utc=self._station_time(figures.oldest_waiting_utc),
            last_error=figures.last_error,
            next_try_s=None if next_try is None else max(0.0, next_try - self._real_utc()),
        )

    def _station_time(self, real_utc: float | None) -> float | None:
        """The outbox counts in real time; in a rehearsal the station does not. To the second, so
        that what stands still is not told again and again."""
        if real_utc is None or not self._clock.rehearsal:
            return real_utc
        return float(round(self._clock.now_utc() - (self._real_utc() - real_utc)))

    def _payload(self, state: FlightState) -> PayloadSnapshot:
        settings, base = self._core.flights.settings(state.payload), self._settings.base
        landing, last = state.landing, state.motion.last
        loss = None if landing is None else signal_loss(settings, landing)
        found = self._found(state.payload)
        return PayloadSnapshot(
            payload=state.payload,
            instruction=guidance(
                settings,
                state,
                self._clock.now_utc(),
                self._core.telling.wording,
                vehicles=self._core.flights.vehicles.positions,
                found=found,
            ),
            phase=state.motion.phase,
            since_utc=state.motion.since_utc or None,
            silent_since_utc=state.hearing.silent_since,
            last=None
            if last is None
            else LastFix.of(last, base, ground_m=_ground(state), drift=_drift(state)),
            height=_height_alone(state),
            rate_ms=_rate(state),
            landing=None if landing is None else self._landing(landing),
            if_launched=None if landing is not None else self._before_launch(state.payload),
            launch=None if state.motion.launch is None else LaunchSnapshot.of(state.motion.launch),
            burst=None
            if state.motion.burst is None
            else BurstSnapshot(
                time_utc=state.motion.burst.time_utc, altitude_m=state.motion.burst.altitude_m
            ),
            expected_burst_m=settings.plan.burst_altitude_m,
            planned=None
            if settings.plan.landing is None
            else PlannedSnapshot.of(settings.plan.landing, landing),
            signal_lost=None
            if loss is None
            else SignalLoss(time_utc=loss.time_utc, agl_m=loss.agl_m),
            track=state.motion.track.settled,
            moves=state.moves,
            found=None if found is None else FoundSnapshot.of(found),
            trackers=tuple(_trackers(settings, state)),
            sightings=tuple(map(SightingTold.of, state.sightings)),
        )

    def _landing(self, landing: Landing) -> LandingSnapshot:
        town = self._towns.nearest(landing.latitude_deg, landing.longitude_deg)
        return LandingSnapshot.from_(landing, self._settings.base, town)

    def _before_launch(self, payload: str) -> IfLaunchedSnapshot | None:
        made = self._if_launched(payload)
        if made is None:
            return None
        return IfLaunchedSnapshot(launch_utc=made[0], landing=self._landing(made[1]))


def _trackers(settings: FlightSettings, state: FlightState) -> Iterator[TrackerSnapshot]:
    heard = {plain_id(tracker): at for tracker, at, _ in state.hearing.trackers}
    for setting in settings.trackers:
        yield TrackerSnapshot(id=setting.id, received_utc=heard.get(plain_id(setting.id)))


def _rate(state: FlightState) -> float | None:
    """Vertical speed over about the last minute, up positive."""
    samples = state.heights.levels if unplaced(state) else state.motion.track.points
    points = [(p.time_utc, p.altitude_m) for p in samples[-12:] if p.altitude_m is not None]
    if len(points) < 2:
        return None
    newest, high_m = points[-1]
    began, low_m = next(
        (p for p in reversed(points[:-1]) if newest - p[0] >= RATE_OVER_S), points[0]
    )
    return (high_m - low_m) / (newest - began) if newest > began else None


def _height_alone(state: FlightState) -> HeightAlone | None:
    """What was heard after the newest fix without a place, as the places before would tell it."""
    height, altitude_m = state.heights.newest, newest_height_m(state)
    if not unplaced(state) or height is None or altitude_m is None:
        return None
    return HeightAlone.of(height, altitude_m, _ground(state))


def _ground(state: FlightState) -> float | None:
    """The ground at the landing, else that of the launch: what is known of the ground there is."""
    if state.landing is not None:
        return state.landing.ground_m
    return None if state.motion.launch is None else state.motion.launch.altitude_m


def _drift(state: FlightState) -> tuple[float, float] | None:
    """Speed and course over the ground in about the last minute; None on the ground."""
    points = state.motion.track.points[-12:]
    if len(points) < 2 or state.motion.phase in (Phase.PRELAUNCH, Phase.LANDED):
        return None
    last = points[-1]
    before = next(
        (p for p in reversed(points[:-1]) if last.time_utc - p.time_utc >= RATE_OVER_S), points[0]
    )
    lasted = last.time_utc - before.time_utc
    if lasted <= 0.0:
        return None
    away, course = distance_bearing(
        before.latitude_deg, before.longitude_deg, last.latitude_deg, last.longitude_deg
    )
    return away / lasted, course


def _source(health: SourceHealth) -> SourceSnapshot:
    return SourceSnapshot(
        name=health.name,
        kind=health.kind,
        state=_STATE[health.state],
        since_utc=health.since_utc,
        frames=health.frames,
        last_frame_utc=health.last_frame_utc,
        failures=health.failures,
        last_error=health.last_error,
        next_try_s=health.next_try_s,
        receivers=tuple(
            ReceiverSnapshot(
                name=receiver.receiver, frames=receiver.frames, last_utc=receiver.last_utc
            )
            for receiver in health.receivers
        ),
    )


def _message(message: Message, seen: Collection[str]) -> MessageSnapshot:
    alert = message.alert
    return MessageSnapshot(
        time_utc=alert.time_utc,
        kind=alert.kind,
        title=message.title,
        body=message.body,
        key=alert.key.text,
        seen=alert.key.text in seen,
    )
