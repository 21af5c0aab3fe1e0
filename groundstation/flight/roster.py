"""Which payload a tracker belongs to."""

from groundstation.flight.events import Arrived
from groundstation.flight.settings import FlightSettings
from groundstation.records import Reason, Verdict

ANY = "*"


class Roster:
    """Tracker ids by payload. Ids are compared without case; SSID 0 equals no SSID.

    The id ``*`` takes whatever no other payload claims (a recording without a configuration).
    """

    def __init__(self, settings: tuple[FlightSettings, ...]) -> None:
        self._payloads = {
            plain_id(tracker.id): flight.payload
            for flight in settings
            for tracker in flight.trackers
        }

    def payload_of(self, tracker: str) -> str | None:
        return self._payloads.get(plain_id(tracker), self._payloads.get(ANY))

    def unknown(self, observed: Arrived) -> Verdict:
        return Verdict(
            report_id=observed.report_id,
            reason=Reason.UNKNOWN_TRACKER,
            detail=f"no payload has the tracker {observed.report.tracker!r}",
        )


def plain_id(tracker: str) -> str:
    """A tracker's id for comparing: without case, and without the SSID 0."""
    return tracker.strip().upper().removesuffix("-0")
