"""What the page shows: one moment of the station, as the station tells it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from groundstation.flight.moves import Move
from groundstation.flight.settings import BaseSettings, PlannedLanding
from groundstation.flight.state import Burst
from groundstation.flight.track import Point
from groundstation.records import Fix, Landing, Phase, Reason
from groundstation.search.found import Found


class DisplayUnits(StrEnum):
    """What the person reads; inside it is SI."""

    METRIC = "metric"
    FEET_MILES = "feet-miles"


class SourceState(StrEnum):
    """How a source is. ``QUIET`` is connected, but nothing has come for longer than usual."""

    STARTING = "starting"
    RUNNING = "running"
    QUIET = "quiet"
    WAITING = "waiting"
    ENDED = "ended"
    FAILED = "failed"


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackerSnapshot:
    """One transmitter, and when it was last heard; None where it never was."""

    id: str
    heard_utc: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PayloadSnapshot:
    """One payload. Distances and bearings are from the base, None where there is no base.

    ``rate_ms`` is the vertical speed now, up positive. ``expected_burst_m`` is the planned burst
    altitude, for the sketch of the climb, ``planned`` where it was to land. ``signal_lost_utc`` is
    when base will lose sight of it, at ``signal_lost_agl_m`` above the landing point. ``track`` is
    thinned and ends before ``last``; ``moves`` is how the landing estimate moved, ``found`` what
    became of it.
    """

    payload: str
    phase: Phase = Phase.PRELAUNCH
    since_utc: float | None = None
    last: Fix | None = None
    rate_ms: float | None = None
    landing: Landing | None = None
    launch: Fix | None = None
    burst: Burst | None = None
    expected_burst_m: float | None = None
    planned: PlannedLanding | None = None
    signal_lost_utc: float | None = None
    signal_lost_agl_m: float | None = None
    last_distance_m: float | None = None
    last_bearing_deg: float | None = None
    landing_distance_m: float | None = None
    landing_bearing_deg: float | None = None
    track: tuple[Point, ...] = ()
    moves: tuple[Move, ...] = ()
    found: Found | None = None
    trackers: tuple[TrackerSnapshot, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceiverSnapshot:
    """What one receiver brought to a source."""

    name: str
    frames: int
    last_utc: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceSnapshot:
    """One source. ``next_try_s`` is the time until the supervisor tries again, in real seconds."""

    name: str
    kind: str
    state: SourceState
    since_utc: float
    frames: int = 0
    last_frame_utc: float | None = None
    failures: int = 0
    last_error: str = ""
    next_try_s: float | None = None
    receivers: tuple[ReceiverSnapshot, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetSnapshot:
    """One alert target and what the outbox holds for it. ``uncertain`` counts the delivered ones
    that may have arrived twice."""

    name: str
    kind: str = ""
    waiting: int = 0
    delivered: int = 0
    expired: int = 0
    uncertain: int = 0
    failures: int = 0
    last_delivered_utc: float | None = None
    oldest_waiting_utc: float | None = None
    last_error: str = ""
    next_try_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MessageSnapshot:
    """An alert as it was worded; ``seen`` once a person has acknowledged it."""

    time_utc: float
    kind: str
    title: str
    body: str
    key: str
    seen: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """What came in since the station started."""

    frames: int = 0
    fixes: int = 0
    rejected: Mapping[Reason, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class StationSnapshot:
    """One moment of the whole station. Times are the station's own, also in a rehearsal.

    ``speed`` is station seconds per real second. ``messages`` are newest first. ``problems`` are
    plain sentences that say what to do. ``vehicles`` are the newest fixes of chase vehicles, whose
    names stand in ``payload``. ``unwritten`` are steps that the disk has not taken yet, ``still_s``
    is how many real seconds the pipeline has not moved.
    """

    now_utc: float
    started_utc: float
    station: str
    rehearsal: bool = False
    speed: float = 1.0
    timezone: str = "UTC"
    units: DisplayUnits = DisplayUnits.METRIC
    base: BaseSettings | None = None
    payloads: tuple[PayloadSnapshot, ...] = ()
    vehicles: tuple[Fix, ...] = ()
    sources: tuple[SourceSnapshot, ...] = ()
    targets: tuple[TargetSnapshot, ...] = ()
    counts: Counts = field(default_factory=Counts)
    messages: tuple[MessageSnapshot, ...] = ()
    problems: tuple[str, ...] = ()
    unwritten: int = 0
    still_s: float = 0.0
    disk_free_bytes: int | None = None
    disk_written_bytes: int | None = None
    memory_bytes: int | None = None
