"""The records that travel from the antenna to the phone, in the order in which they come to be.

SI units and degrees, the unit in the name. Times are seconds since 1970-01-01T00:00:00Z.
Altitudes are metres above mean sea level; above ground is ``_agl_m``.
"""

from dataclasses import dataclass, field
from enum import StrEnum

Ring = tuple[tuple[float, float], ...]
"""A closed line of (latitude, longitude) pairs in degrees, counter-clockwise, last = first."""

Region = tuple[Ring, ...]
"""One or more areas, each by its outer ring."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """One piece of input as it came. It is kept, with its bytes, whatever becomes of it.

    What its carrier says beside the bytes: ``sent_utc`` is when it was handed in, as the head of a
    mail tells; ``retained`` that a broker had kept it for nobody knows how long; ``sender`` whose
    it is, where that stands in a topic and not in the message.
    """

    source: str
    received_utc: float
    data: bytes
    receiver: str = ""
    sent_utc: float | None = None
    retained: bool = False
    sender: str = ""


class Reason(StrEnum):
    """Why a frame or a report is not used."""

    UNREADABLE = "unreadable"
    CHECKSUM = "checksum"
    TOO_LONG = "too-long"
    NO_POSITION = "no-position"
    SERVER_COMMENT = "server-comment"
    NO_FIX = "no-fix"
    IMPOSSIBLE = "impossible"
    BAD_TIME = "bad-time"
    UNKNOWN_TRACKER = "unknown-tracker"
    DUPLICATE = "duplicate"
    JUMP = "jump"


@dataclass(frozen=True, slots=True, kw_only=True)
class Unreadable:
    """What a decoder says of bytes that hold no position: the reason, and a sentence."""

    reason: Reason
    detail: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """What a tracker claims, as decoded and not yet believed.

    ``time_utc`` is None where the sender gave no time; ``time_unread`` is what stands there where
    it gave one that could not be read, so that nobody takes it for new. ``uncertainty_m`` is the
    half-width of what the sender's notation can tell apart. ``valid`` is False where the sender
    itself says that it has no fix. ``telemetry`` holds (name, value) pairs in the units the names
    carry.
    ``unread`` names values that were sent and left out because they could not be read, each with
    what stood there; it helps whoever sets up a source, and is not kept.
    """

    tracker: str
    latitude_deg: float
    longitude_deg: float
    altitude_m: float | None = None
    time_utc: float | None = None
    time_unread: str = ""
    uncertainty_m: float = 0.0
    course_deg: float | None = None
    speed_ms: float | None = None
    satellites: int | None = None
    valid: bool = True
    telemetry: tuple[tuple[str, float], ...] = ()
    comment: str = ""
    path: tuple[str, ...] = ()
    unread: tuple[tuple[str, str], ...] = field(default=(), compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightReport:
    """What a tracker claims of its height alone, where it gives no place: as decoded and not yet
    believed.

    It gives a height, or the pressure of the air, or both. All else is as in ``Report``.
    """

    tracker: str
    altitude_m: float | None = None
    pressure_pa: float | None = None
    time_utc: float | None = None
    time_unread: str = ""
    telemetry: tuple[tuple[str, float], ...] = ()
    comment: str = ""
    path: tuple[str, ...] = ()
    unread: tuple[tuple[str, str], ...] = field(default=(), compare=False)


Read = Report | HeightReport | Unreadable
"""What a decoder makes of a frame."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fix:
    """A report that the gate believed, of a known payload.

    ``time_utc`` is the sender's own time where it gave one, else that of reception. ``late``
    marks a fix older than one already used: it is kept for the record and the wind profile.
    ``time_unknown`` marks one whose ``time_utc`` says only when it was known at the latest: it is
    kept, and no flight is told from it. ``placed`` is False of a height that came without a place:
    then the place is the one known last, and only its height and time count.
    """

    payload: str
    tracker: str
    source: str
    time_utc: float
    received_utc: float
    latitude_deg: float
    longitude_deg: float
    altitude_m: float | None
    uncertainty_m: float = 0.0
    course_deg: float | None = None
    speed_ms: float | None = None
    satellites: int | None = None
    telemetry: tuple[tuple[str, float], ...] = ()
    late: bool = False
    time_unknown: bool = False
    placed: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Height:
    """A height without a place that the gate believed, of a known payload; times as of ``Fix``.

    ``by_pressure`` says that a pressure told it: that of the standard atmosphere there.
    """

    payload: str
    tracker: str
    source: str
    time_utc: float
    received_utc: float
    altitude_m: float
    by_pressure: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What the gate decided on report ``report_id``: a fix, a height without a place, or a reason.

    A later verdict on the same report replaces the earlier one: a jump may be confirmed.
    """

    report_id: int
    fix: Fix | None = None
    height: Height | None = None
    reason: Reason | None = None
    detail: str = ""


class Phase(StrEnum):
    PRELAUNCH = "prelaunch"
    ASCENT = "ascent"
    FLOAT = "float"
    DESCENT = "descent"
    LANDED = "landed"


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseChange:
    """A payload entered ``phase`` at ``since_utc``; it was known at ``time_utc``."""

    payload: str
    time_utc: float
    phase: Phase
    since_utc: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseChances:
    """How likely each phase is; they add up to 1."""

    ascent: float = 0.0
    floating: float = 0.0
    descent: float = 0.0
    landed: float = 0.0

    @property
    def burst(self) -> float:
        """The chance that it no longer climbs or floats."""
        return self.descent + self.landed


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How far a flight is, as well as that is known when an estimate is made.

    ``height_90_m`` holds 90 %. ``launch_utc`` is the likely launch and ``burst_90_utc`` the span
    that holds 90 % of when it burst or will, where only an ensemble of whole flights tells them.
    """

    chance: PhaseChances
    height_m: float | None = None
    height_90_m: tuple[float, float] | None = None
    launch_utc: float | None = None
    burst_90_utc: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Landing:
    """A landing estimate: the point, when, how sure, and what it rests on.

    ``time_utc`` is when it was made, ``evidence_utc`` the time of the last fix in it.
    ``descent_rate_ms`` is the rate expected at the ground. ``eta_90_utc`` and
    ``descent_rate_90_ms`` hold 90 %. ``inside`` are areas to keep out of, each with the share of
    the ensemble that comes down in it.
    """

    payload: str
    time_utc: float
    evidence_utc: float
    phase: Phase
    latitude_deg: float
    longitude_deg: float
    ground_m: float
    eta_utc: float
    eta_90_utc: tuple[float, float]
    descent_rate_ms: float
    region_50: Region
    region_90: Region
    radius_50_m: float
    radius_90_m: float
    basis: str
    descent_rate_90_ms: tuple[float, float] | None = None
    inside: tuple[tuple[str, float], ...] = ()
    progress: Progress | None = None


class AlertKind(StrEnum):
    LAUNCHED = "launched"
    BURST = "burst"
    FLOATING = "floating"
    FALLING_FAST = "falling-fast"
    FALLING_SLOWLY = "falling-slowly"
    LANDING_MOVED = "landing-moved"
    OFF_PLAN = "off-plan"
    KEEP_OUT = "keep-out"
    CLIMBING_FAST = "climbing-fast"
    CLIMBING_SLOWLY = "climbing-slowly"
    STILL_CLIMBING = "still-climbing"
    ALTITUDE_FROZEN = "altitude-frozen"
    TRACKERS_DISAGREE = "trackers-disagree"
    SILENT = "silent"
    HEARD_AGAIN = "heard-again"
    TOUCHDOWN_SOON = "touchdown-soon"
    SHOULD_BE_DOWN = "should-be-down"
    LANDED = "landed"
    MOVED_AFTER_LANDING = "moved-after-landing"
    CALLED_OFF = "called-off"
    STATION = "station"


class Urgency(StrEnum):
    """How a phone should treat a message."""

    QUIET = "quiet"
    NORMAL = "normal"
    HIGH = "high"


class Act(StrEnum):
    """What the person is to do now about a payload."""

    LISTEN = "listen"
    GET_READY = "get-ready"
    FOLLOW = "follow"
    WAIT = "wait"
    CHECK = "check"
    HEAD = "head"
    GO_ON = "go-on"
    STOP = "stop"
    SEARCH = "search"
    FETCH = "fetch"
    NOTHING = "nothing"


class Standing(StrEnum):
    """Where a flight stands as its person sees it: what is to be done never contradicts it."""

    WAITING = "waiting"
    RISING = "rising"
    FLOATING = "floating"
    FALLING = "falling"
    DUE = "due"
    DOWN = "down"
    FOUND = "found"
    GIVEN_UP = "given-up"


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A place; ``altitude_m`` is None where that is not known."""

    latitude_deg: float
    longitude_deg: float
    altitude_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedPlace:
    """A town or village; ``population`` to 4 %, 0 where it is not known."""

    name: str
    latitude_deg: float
    longitude_deg: float
    population: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Instruction:
    """What is to be done now, and what that rests on; ``since_utc`` it holds.

    ``where`` is the place that it sends to: the landing point, or where it was heard on the ground
    (``measured``), and from where it was ``carried`` on. ``down_utc`` is when it is or was expected
    down, which may be ``past``; ``silent_since_utc`` when it was last heard where that is too long
    ago. ``fix_utc`` is the time of the newest fix, ``old`` once that says little of now. ``launch``
    is where it was launched, where somebody ``saw_launch``, else where it was first heard. Of a
    flight without heights nobody may know whether it has burst (``may_have_burst``); ``chance`` is
    all that tells its phase then. A receiver
    near it hears it (``audible``), unless it speaks to satellites or networks only.
    """

    act: Act
    since_utc: float
    phase: Phase
    where: Place | None = None
    measured: bool = False
    radius_50_m: float | None = None
    down_utc: float | None = None
    silent_since_utc: float | None = None
    last_altitude_m: float | None = None
    launch: Place | None = None
    saw_launch: bool = True
    may_have_burst: bool = False
    chance: PhaseChances | None = None
    standing: Standing = Standing.WAITING
    past: bool = False
    carried: bool = False
    fix_utc: float | None = None
    old: bool = False
    audible: bool = True
