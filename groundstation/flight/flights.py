"""All flights of a station: each report to the payload it belongs to, each tick to all.

The live station, a replay and a restart drive this same object.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from groundstation.flight.estimate import estimate, estimate_due
from groundstation.flight.events import Arrived, Estimated, Event, Sighted, Tick, Withdrawn
from groundstation.flight.fold import Outcome, begin, step
from groundstation.flight.roster import Roster
from groundstation.flight.settings import FlightSettings, VehicleSettings
from groundstation.flight.sightings import Looked
from groundstation.flight.state import FlightState, unplaced
from groundstation.flight.vehicles import Vehicles
from groundstation.flight.whole import only_places
from groundstation.physics.wind import WindsAloft
from groundstation.records import Landing, Phase

TICK_S = 1.0  # alerts can wait for a second, not for more (own choice)
QUIET_AFTER_S = 3_600.0  # own choice, so that days of silence cost a restart nothing
QUIET_TICK_S = 60.0  # own choice: after an hour, a minute matters no more


class Flights:
    """The state of every payload. Not thread-safe; the states themselves are immutable."""

    def __init__(
        self, settings: Sequence[FlightSettings], vehicles: Sequence[VehicleSettings] = ()
    ) -> None:
        self.vehicles = Vehicles(vehicles)
        self._settings = {flight.payload: flight for flight in settings}
        self._states: dict[str, FlightState] = {}
        self._tried: dict[str, tuple[Phase, float]] = {}
        self.forget()
        self._roster = Roster(tuple(settings))

    def forget(self) -> None:
        """Begin anew, as if nothing had been heard yet."""
        self.vehicles.forget()
        self._tried.clear()
        looks = {name: state.looks for name, state in self._states.items()}
        self._states = {
            name: replace(begin(flight), looks=looks.get(name, ()))
            for name, flight in self._settings.items()
        }

    @property
    def payloads(self) -> tuple[str, ...]:
        return tuple(self._states)

    def settings(self, payload: str) -> FlightSettings:
        return self._settings[payload]

    def put_winds(self, payload: str, aloft: WindsAloft | None) -> None:
        """A newer forecast; only estimates use it."""
        self._settings[payload] = replace(self._settings[payload], aloft=aloft)

    def put_looks(self, payload: str, looks: Sequence[Looked], now_utc: float) -> None:
        """What was done in the search for it, as it stands now; an estimate may be due then."""
        state = self._states[payload]
        if state.looks == tuple(looks):
            return
        self._tried.pop(payload, None)
        moment = max(state.now_utc, now_utc)
        self._states[payload] = replace(
            state, looks=tuple(looks), now_utc=moment, sighted_utc=moment
        )

    def state(self, payload: str) -> FlightState:
        return self._states[payload]

    def resume(self, states: Sequence[FlightState]) -> None:
        """Go on from states that were kept; those of payloads that are none any more are left."""
        self._states |= {state.payload: state for state in states if state.payload in self._states}

    def is_known(self, tracker: str) -> bool:
        """Whether a payload or a vehicle has the tracker."""
        return tracker in self.vehicles or self._roster.payload_of(tracker) is not None

    def observed(self, event: Arrived) -> tuple[Outcome, ...]:
        if event.report.tracker in self.vehicles:
            return (self.vehicles.observed(event),)
        payload = self._roster.payload_of(event.report.tracker)
        if payload is None:
            return (self._roster.unknown(event),)
        return self._step(payload, event)

    def tick(self, now_utc: float, deaf: frozenset[str] = frozenset()) -> tuple[Outcome, ...]:
        event = Tick(now_utc=now_utc, deaf=deaf)
        return tuple(out for payload in self._states for out in self._step(payload, event))

    def estimated(self, landing: Landing) -> tuple[Outcome, ...]:
        if landing.payload not in self._states:
            return ()
        return self._step(landing.payload, Estimated(landing=landing))

    def sighted(self, payload: str, event: Sighted | Withdrawn) -> tuple[Outcome, ...]:
        """A person told what they saw of a payload, or took it back. An estimate may be due then.
        ``KeyError`` for a payload that is not known."""
        self._tried.pop(payload, None)
        return self._step(payload, event)

    def due(self) -> tuple[str, ...]:
        """Payloads of which a new estimate would say something new."""
        return tuple(
            payload
            for payload, state in self._states.items()
            if estimate_due(self._settings[payload], state) and not self._in_vain(payload, state)
        )

    def in_vain(self, state: FlightState) -> None:
        """An estimate was tried from ``state``, and could not say anything."""
        if state.motion.last is not None:
            self._tried[state.payload] = (state.motion.phase, state.motion.last.time_utc)

    def _in_vain(self, payload: str, state: FlightState) -> bool:
        """Whether one was tried so shortly before that it would say nothing again."""
        phase, at_utc = self._tried.get(payload, (None, 0.0))
        if phase is not state.motion.phase or state.motion.last is None:
            return False
        settings = self._settings[payload]
        falling = phase is Phase.DESCENT
        every_s = settings.estimate_every_s if falling else settings.climbing_every_s
        return state.motion.last.time_utc - at_utc < every_s

    def due_by_time(self) -> tuple[str, ...]:
        """Those of which the time that goes by without a message says something new."""
        return tuple(
            payload
            for payload, state in self._states.items()
            if (only_places(state) or unplaced(state))
            and state.landing is not None
            and estimate_due(self._settings[payload], state)
        )

    def estimate(self, payload: str) -> Landing | None:
        state = self._states[payload]
        landing = estimate(self._settings[payload], state)
        if landing is None:
            self.in_vain(state)
        return landing

    def _step(self, payload: str, event: Event) -> tuple[Outcome, ...]:
        state, outcomes = step(self._settings[payload], self._states[payload], event)
        self._states[payload] = state
        return outcomes


def ticks_between(since_utc: float, until_utc: float) -> Iterator[float]:
    """The ticks that a running station would have had: one a second, one a minute after an hour
    without anything."""
    now = since_utc + TICK_S
    while now < until_utc:
        yield now
        now += TICK_S if now - since_utc < QUIET_AFTER_S else QUIET_TICK_S
