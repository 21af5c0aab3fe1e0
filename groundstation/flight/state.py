"""The state of one payload's flight: what the fold carries from event to event."""

from dataclasses import dataclass, field

from groundstation.flight.alert_records import AlertKey, Facts
from groundstation.flight.apart import Apart
from groundstation.flight.gate import GateState
from groundstation.flight.heights import Heights
from groundstation.flight.lead import Lead
from groundstation.flight.moves import Move
from groundstation.flight.sightings import AnySighting, Looked
from groundstation.flight.track import Track
from groundstation.records import Fix, Height, Landing, Phase, PhaseChange, Place


@dataclass(frozen=True, slots=True, kw_only=True)
class Burst:
    """The highest point of the flight and the moment the descent began."""

    time_utc: float
    altitude_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """Where the payload is in its flight, as its fixes tell. ``window`` are the newest fixes with
    an altitude, thinned in time; ``rest`` is where it came to rest. ``frozen_m`` is the height at
    which the tracker's heights stand still while it moves on; ``launch_word`` is the number of the
    sighting that told of the launch, where that begins the flight. ``waited`` tells whether it was
    heard before the launch, whose place is then known; ``maybe`` is where it may have been
    launched, with ``maybe_chance``, while that is not sure; ``tells_height`` whether any place
    came with its height; ``no_flight_m`` is the height at which a
    person said that it is no flight, as long as that counts."""

    phase: Phase = Phase.PRELAUNCH
    since_utc: float = 0.0
    first: Fix | None = None
    last: Fix | None = None
    highest: Fix | None = None
    launch: Fix | None = None
    burst: Burst | None = None
    rest: Fix | None = None
    away: int = 0
    waited: bool = False
    tells_height: bool = False
    no_flight_m: float | None = None
    frozen_m: float | None = None
    launch_word: int | None = None
    maybe: Fix | None = None
    maybe_chance: float = 0.0
    window: tuple[Fix, ...] = ()
    track: Track = field(default_factory=Track)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hearing:
    """When each tracker was last heard (times of reception) and how often it sends.

    ``trackers`` holds (id, last reception, newest intervals). ``silent_since`` is the time of
    reception of the last fix before a silence.
    """

    trackers: tuple[tuple[str, float, tuple[float, ...]], ...] = ()
    due_utc: float = float("inf")
    silent_since: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What was told, so that it is told once. ``point`` is the landing point last told, in
    whatever alert, at ``point_utc`` and in the phase ``point_in``; ``silent_utc`` and ``silent_in``
    are when, and in which phase, a silence was; ``gap_s`` is the longest that ended
    by itself, in the phase ``gap_in``. ``on_ground`` says that it was heard from there."""

    keys: frozenset[AlertKey] = frozenset()
    point: Place | None = None
    point_utc: float = float("-inf")
    point_in: Phase | None = None
    silent_utc: float = float("-inf")
    silent_in: Phase | None = None
    gap_s: float = 0.0
    gap_in: Phase | None = None
    on_ground: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """An alert that waits for the landing estimate made of the fix it tells of, which was heard at
    ``since_utc`` and is of ``evidence_utc``."""

    facts: Facts
    occasion: str
    since_utc: float
    evidence_utc: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FlightState:
    """Everything known of one flight of one payload. Immutable; ``step`` makes the next one.

    ``apart`` tells how the trackers of this payload agree. ``before`` holds the newest report ids
    with the motion as it was before each, so that a fix that turns out wrong can be taken back.
    ``lead`` says which tracker the motion follows, ``moves`` how the landing estimate moved.
    ``sightings`` are those of this flight that stand, in order of ``at_utc``; ``sighted_utc`` is
    when one was told or taken back last. ``looks`` are those of the search.
    ``heights`` are those that came without a place.
    """

    payload: str
    now_utc: float = 0.0
    motion: Motion = field(default_factory=Motion)
    gate: GateState = field(default_factory=GateState)
    hearing: Hearing = field(default_factory=Hearing)
    said: Said = field(default_factory=Said)
    landing: Landing | None = None
    before: tuple[tuple[int, Fix, Motion], ...] = ()
    apart: Apart = field(default_factory=Apart)
    heights: Heights = field(default_factory=Heights)
    lead: Lead = field(default_factory=Lead)
    moves: tuple[Move, ...] = ()
    waiting: tuple[Waiting, ...] = ()
    sightings: tuple[AnySighting, ...] = ()
    sighted_utc: float = float("-inf")
    looks: tuple[Looked, ...] = ()
    called_off: tuple[int, Motion, Landing | None] | None = None
    """The word that it was no flight, by number, with the flight as it was until then."""


def newest_placed(state: FlightState) -> Fix | None:
    """The newest of the fixes that told both a place and a height."""
    return next((fix for fix in reversed(state.motion.window) if fix.placed), None)


def unplaced(state: FlightState) -> bool:
    """Whether heights without a place are what is heard of it now."""
    last, levels = state.motion.last, state.heights.levels
    return last is not None and bool(levels) and levels[-1].time_utc > last.time_utc


def newest_height_m(state: FlightState) -> float | None:
    """The newest height that was heard, with a place or without."""
    last, levels = state.motion.last, state.heights.levels
    if levels and (last is None or unplaced(state)):
        return levels[-1].altitude_m
    return None if last is None else last.altitude_m


def last_heard(state: FlightState) -> Fix | Height | None:
    """The newest place that the flight goes by, or a newer height without one."""
    last, height = state.motion.last, state.heights.newest
    if last is None or (height is not None and height.received_utc > last.received_utc):
        return height
    return last


def phase_change(state: FlightState) -> PhaseChange:
    """That the flight is in the phase in which it is now, as known now."""
    return PhaseChange(
        payload=state.payload,
        time_utc=state.now_utc,
        phase=state.motion.phase,
        since_utc=state.motion.since_utc,
    )
