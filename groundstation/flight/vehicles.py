"""Chase vehicles: trackers that are not a payload, but somebody who looks for one.

Their positions are taken as they come, so far as they are possible; only the newest counts.
"""

from collections.abc import Sequence
from dataclasses import replace

from groundstation.flight.events import Arrived, HeightHeard
from groundstation.flight.gate import fix_of, impossible
from groundstation.flight.roster import plain_id
from groundstation.flight.settings import FlightSettings, VehicleSettings
from groundstation.records import Fix, Reason, Verdict


class Vehicles:
    """Where each vehicle was last. Not thread-safe."""

    def __init__(self, settings: Sequence[VehicleSettings]) -> None:
        self._names = {
            plain_id(tracker_id): vehicle.name
            for vehicle in settings
            for tracker_id in vehicle.tracker
        }
        self._last: dict[str, Fix] = {}

    def __contains__(self, tracker: str) -> bool:
        return plain_id(tracker) in self._names

    def forget(self) -> None:
        self._last.clear()

    @property
    def last(self) -> tuple[tuple[str, Fix], ...]:
        """What ``resume`` takes."""
        return tuple(self._last.items())

    def resume(self, last: tuple[tuple[str, Fix], ...]) -> None:
        """Go on from where they were."""
        self._last = {name: fix for name, fix in last if name in self._names.values()}

    @property
    def positions(self) -> tuple[Fix, ...]:
        """The newest fix of each vehicle that was heard; ``payload`` is its name."""
        return tuple(self._last[name] for name in sorted(self._last))

    def observed(self, event: Arrived) -> Verdict:
        """Decide on a report of a vehicle's tracker."""
        if isinstance(event, HeightHeard):
            nowhere = "of a vehicle only its place counts"
            return Verdict(report_id=event.report_id, reason=Reason.NO_POSITION, detail=nowhere)
        trouble = impossible(event.report)
        if trouble is not None:
            reason, detail = trouble
            return Verdict(report_id=event.report_id, reason=reason, detail=detail)
        name = self._names[plain_id(event.report.tracker)]
        fix = fix_of(FlightSettings(payload=name, trackers=()), event)
        if fix.time_unknown:
            return Verdict(report_id=event.report_id, fix=replace(fix, late=True))
        last = self._last.get(name)
        if last is not None and fix.time_utc <= last.time_utc:
            older = "it is not newer than what is known of this vehicle"
            return Verdict(report_id=event.report_id, reason=Reason.DUPLICATE, detail=older)
        self._last[name] = fix
        return Verdict(report_id=event.report_id, fix=fix)
