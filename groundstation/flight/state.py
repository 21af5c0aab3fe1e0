"""The state of one payload's flight: what the fold carries from event to event."""

from dataclasses import dataclass, field

from groundstation.flight.track import Track
from groundstation.records import Fix, Landing, Phase


@dataclass(frozen=True, slots=True, kw_only=True)
class Burst:
    """The highest point of the flight and the moment the fall began."""

    time_utc: float
    altitude_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FlightState:
    """Everything known of one flight of one payload. Immutable; ``step`` makes the next one."""

    payload: str
    phase: Phase = Phase.PRELAUNCH
    since_utc: float = 0.0
    now_utc: float = 0.0
    first: Fix | None = None
    last: Fix | None = None
    highest: Fix | None = None
    launch: Fix | None = None
    burst: Burst | None = None
    track: Track = field(default_factory=Track)
    landing: Landing | None = None
