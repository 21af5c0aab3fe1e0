"""What can happen to a flight: the inputs of the fold."""

from dataclasses import dataclass

from groundstation.flight.sightings import AnySighting
from groundstation.records import HeightReport, Landing, Report


@dataclass(frozen=True, slots=True, kw_only=True)
class Observed:
    """A report arrived. ``report_id`` is the caller's name for it, used in the verdict."""

    report_id: int
    source: str
    received_utc: float
    report: Report


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightHeard:
    """A report of a height without a place arrived; ``report_id`` as of ``Observed``."""

    report_id: int
    source: str
    received_utc: float
    report: HeightReport


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """The station's clock moved on; comes about once a second. ``deaf`` are the sources that are
    not connected."""

    now_utc: float
    deaf: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimated:
    """A landing estimate was made from a state of this flight."""

    landing: Landing


@dataclass(frozen=True, slots=True, kw_only=True)
class Sighted:
    """A person told what they saw. One of the same number as another replaces it."""

    now_utc: float
    sighting: AnySighting


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawn:
    """A person took back what they told under ``number``."""

    now_utc: float
    number: int


Arrived = Observed | HeightHeard
"""That a report of a tracker arrived."""


def arrived(
    report_id: int, source: str, received_utc: float, report: Report | HeightReport
) -> Arrived:
    """The event that a report is."""
    if isinstance(report, HeightReport):
        return HeightHeard(
            report_id=report_id, source=source, received_utc=received_utc, report=report
        )
    return Observed(report_id=report_id, source=source, received_utc=received_utc, report=report)


def heard_at(
    received_utc: float,
    report: Report | HeightReport,
    sent_utc: float | None = None,
    *,
    retained: bool = False,
) -> float:
    """When a tracker was heard, which is before a mailbox or a broker that kept it was asked."""
    if sent_utc is not None:
        return min(received_utc, sent_utc)
    if retained and report.time_utc is not None:
        return min(received_utc, report.time_utc)
    return received_utc


Event = Observed | HeightHeard | Tick | Estimated | Sighted | Withdrawn
