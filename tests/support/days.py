"""Days of a tracker, told through the fold as a station would tell them."""

from collections.abc import Iterable, Sequence

from groundstation.flight.alert_records import Alert
from groundstation.flight.events import Observed
from groundstation.flight.flights import Flights, ticks_between
from groundstation.flight.settings import FlightSettings, TrackerSettings
from groundstation.records import Report
from groundstation.simulation.season import Season
from groundstation.simulation.stretches import Happening

REAL = frozenset(Happening)
ANY = FlightSettings(
    payload="kanalas-1",
    trackers=(TrackerSettings(id="*"),),
    members=100,
    estimate_every_s=300.0,
    climbing_every_s=1_200.0,
)


def told(season: Season, settings: FlightSettings = ANY, *, timed: bool = True) -> list[Alert]:
    """All alerts of these days, in order; without ``timed`` the tracker sends no times."""
    flights = Flights([settings])
    found: list[Alert] = []
    clock: float | None = None
    for number, fix in enumerate(season.heard, start=1):
        if clock is not None:
            for now in ticks_between(clock, fix.received_utc):
                found += _alerts(flights.tick(now))
        clock = fix.received_utc
        report = Report(
            tracker="Q0HAB-11",
            latitude_deg=fix.latitude_deg,
            longitude_deg=fix.longitude_deg,
            altitude_m=fix.altitude_m,
            time_utc=fix.time_utc if timed else None,
        )
        event = Observed(report_id=number, source="air", received_utc=clock, report=report)
        found += _alerts(flights.observed(event))
        for payload in flights.due():
            landing = flights.estimate(payload)
            if landing is not None:
                found += _alerts(flights.estimated(landing))
    return found


def _alerts(outcomes: Iterable[object]) -> list[Alert]:
    return [one for one in outcomes if isinstance(one, Alert)]


def real(alerts: Sequence[Alert]) -> list[str]:
    """The kinds of those that claim that something happened."""
    return [one.kind.value for one in alerts if one.kind in {h.value for h in REAL}]


def happened(season: Season) -> list[str]:
    return [what.value for what, _ in season.happened]
