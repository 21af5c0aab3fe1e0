"""What can happen to a flight: the inputs of the fold."""

from dataclasses import dataclass

from groundstation.records import Landing, Report


@dataclass(frozen=True, slots=True, kw_only=True)
class Observed:
    """A report arrived. ``report_id`` is the caller's name for it, used in the verdict."""

    report_id: int
    source: str
    received_utc: float
    report: Report


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
class Acknowledged:
    """The person has seen the alert ``key``."""

    key: str
    now_utc: float


Event = Observed | Tick | Estimated | Acknowledged
