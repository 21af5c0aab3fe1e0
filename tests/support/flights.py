"""Flights for tests of the fold: short lines of reports, and whole simulated flights."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TypeVar

import pytest

from groundstation.flight.alert_records import Alert
from groundstation.flight.events import arrived
from groundstation.flight.flights import Flights, ticks_between
from groundstation.flight.settings import FlightSettings, TrackerSettings
from groundstation.records import (
    AlertKind,
    Fix,
    HeightReport,
    Landing,
    Phase,
    PhaseChange,
    Reason,
    Report,
    Verdict,
)
from groundstation.simulation.settings import SimulationSettings
from groundstation.simulation.simulate import SimulatedFlight, simulate

F = TypeVar("F")

T0 = 1_778_920_200.0
TRACKER = "Q0HAB-11"
ANY = FlightSettings(payload="kanalas-1", trackers=(TrackerSettings(id="*"),))


def first_is_quick(first: object, *others: object) -> list[object]:
    """For a parametrised test: the first is enough for the inner loop, the others are slow."""
    return [first, *(pytest.param(one, marks=pytest.mark.slow) for one in others)]


@lru_cache(maxsize=32)
def simulated(settings: SimulationSettings) -> SimulatedFlight:
    """The flight, which many tests look at; not to be changed."""
    return simulate(settings)


def report(
    at_s: float,
    altitude_m: float | None,
    *,
    lat: float = 47.1,
    lon: float = 20.3,
    tracker: str = TRACKER,
    timed: bool = True,
    valid: bool = True,
) -> Report:
    """A report ``at_s`` after T0."""
    return Report(
        tracker=tracker,
        latitude_deg=lat,
        longitude_deg=lon,
        altitude_m=altitude_m,
        time_utc=T0 + at_s if timed else None,
        valid=valid,
    )


def reports_of(flight: SimulatedFlight) -> list[tuple[float, Report]]:
    """(time of reception, report) of each fix at its first reception, false ones too."""
    first: dict[int, float] = {}
    for copy in flight.heard:
        first.setdefault(copy.sent.number, copy.received_utc)
    found = [
        (
            first[sent.number],
            Report(
                tracker=flight.settings.tracker.callsign,
                latitude_deg=sent.latitude_deg,
                longitude_deg=sent.longitude_deg,
                altitude_m=sent.altitude_m,
                time_utc=sent.time_utc,
            ),
        )
        for sent in flight.fixes
    ]
    return sorted(found, key=lambda one: one[0])


@dataclass
class Told:
    """What a flight led to. ``fate`` is the last verdict on each report."""

    flights: Flights
    phases: list[PhaseChange] = field(default_factory=list)
    alerts: list[Alert] = field(default_factory=list)
    landings: list[Landing] = field(default_factory=list)
    fate: dict[int, Verdict] = field(default_factory=dict)

    @property
    def reasons(self) -> list[Reason | None]:
        return [self.fate[number].reason for number in sorted(self.fate)]

    @property
    def last(self) -> Fix:
        fix = self.flights.state(self.flights.payloads[0]).motion.last
        assert fix is not None
        return fix

    @property
    def phase(self) -> Phase:
        return self.flights.state(self.flights.payloads[0]).motion.phase

    def facts(self, kind: type[F]) -> list[F]:
        """What the alerts of that kind tell."""
        return [alert.facts for alert in self.alerts if isinstance(alert.facts, kind)]

    def times(self, kind: AlertKind) -> list[float]:
        return [alert.time_utc for alert in self.alerts if alert.kind is kind]

    def count(self, kind: AlertKind) -> int:
        return len(self.times(kind))


def fold(
    reports: Iterable[tuple[float, Report | HeightReport]],
    settings: FlightSettings | Sequence[FlightSettings] = ANY,
    *,
    estimates: bool = True,
    until_s: float = 0.0,
) -> Told:
    """Fold reports with the ticks between them, and ``until_s`` after the last."""
    told = Told(Flights((settings,) if isinstance(settings, FlightSettings) else settings))
    clock: float | None = None

    def keep(outcomes: Iterable[object]) -> None:
        for outcome in outcomes:
            match outcome:
                case Verdict():
                    told.fate[outcome.report_id] = outcome
                case PhaseChange():
                    told.phases.append(outcome)
                case Alert():
                    told.alerts.append(outcome)

    def estimate(due: Sequence[str]) -> None:
        for payload in due if estimates else ():
            landing = told.flights.estimate(payload)
            if landing is not None:
                told.landings.append(landing)
                keep(told.flights.estimated(landing))

    for number, (received_utc, one) in enumerate(reports):
        if clock is not None:
            for now in ticks_between(clock, received_utc):
                keep(told.flights.tick(now))
                estimate(told.flights.due_by_time())
        clock = received_utc if clock is None else max(clock, received_utc)
        keep(told.flights.observed(arrived(number, "test", received_utc, one)))
        estimate(told.flights.due())
    if clock is not None and until_s:
        for now in ticks_between(clock, clock + until_s):
            keep(told.flights.tick(now))
            estimate(told.flights.due_by_time())
    return told
