"""What is told: a record of facts for each kind of alert, its key, and the message made of it.

SI units and degrees, the unit in the name. The words are made in ``alerts/``.
"""

import re
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from enum import StrEnum
from typing import ClassVar, Final
from urllib.parse import unquote

from groundstation.records import AlertKind, Fix, Instruction, Landing, Phase, Place, Urgency

_BEGUN: Final = "%Y%m%dT%H%M%SZ"
_KEY: Final = re.compile(rf"(.*?)/(\d{{8}}T\d{{6}}Z|)/?({'|'.join(AlertKind)})/(.*)", re.DOTALL)


@dataclass(frozen=True, slots=True, kw_only=True)
class AlertKey:
    """What makes an alert the one it is: it is told once for each key.

    ``begun_utc`` is when the flight was first heard, in whole seconds; None for what belongs to no
    flight. ``occasion`` tells alerts of one kind and flight apart.
    """

    payload: str
    begun_utc: int | None
    kind: AlertKind
    occasion: str

    @property
    def text(self) -> str:
        """The key as it is stored and sent: parts joined by "/", a "/" in a part as "%2F"."""
        begun = ""
        if self.begun_utc is not None:
            begun = datetime.fromtimestamp(self.begun_utc, UTC).strftime(_BEGUN)
        return "/".join(map(_escaped, (self.payload, begun, self.kind, self.occasion)))

    @property
    def without_begin(self) -> "AlertKey":
        """The key as it is after a jump of the clock, which may move the flight's begin."""
        return replace(self, begun_utc=None)

    @classmethod
    def of(cls, text: str) -> "AlertKey":
        """Read what ``text`` wrote, or versions before it, which left a "/" in a part as it is.

        Raises ``ValueError`` for anything else.
        """
        found = _KEY.fullmatch(text)
        if found is None:
            raise ValueError(f"{text!r} is not the key of an alert")
        payload, begun, kind, occasion = map(unquote, found.groups())
        begun_utc = None
        if begun:
            begun_utc = int(datetime.strptime(begun, _BEGUN).replace(tzinfo=UTC).timestamp())
        return cls(payload=payload, begun_utc=begun_utc, kind=AlertKind(kind), occasion=occasion)


def _escaped(part: str) -> str:
    return part.replace("%", "%25").replace("/", "%2F")


@dataclass(frozen=True, slots=True, kw_only=True)
class TellsLanding:
    """Facts with the landing estimate that the person is told with them, where there is one."""

    landing: Landing | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Launched(TellsLanding):
    """``ago_s`` is how long ago it likely was, where no height shows it; ``chance`` is that it was,
    where that is not sure yet."""

    kind: ClassVar = AlertKind.LAUNCHED
    ago_s: float | None = None
    chance: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Burst(TellsLanding):
    """``altitude_m`` is None where nobody saw it, ``planned_m`` where nobody made a plan.

    ``chance`` is that it has burst, and ``ago_90_s`` how long ago that was, first the longest,
    where only the way it drifts and the time tell.
    """

    kind: ClassVar = AlertKind.BURST
    altitude_m: float | None
    planned_m: float | None = None
    chance: float | None = None
    ago_90_s: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Floating(TellsLanding):
    kind: ClassVar = AlertKind.FLOATING
    altitude_m: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FallingFast(TellsLanding):
    """Rates are those at the ground; ``planned_ms`` is None without a plan."""

    kind: ClassVar = AlertKind.FALLING_FAST
    descent_rate_ms: float
    planned_ms: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FallingSlowly(TellsLanding):
    """As ``FallingFast``."""

    kind: ClassVar = AlertKind.FALLING_SLOWLY
    descent_rate_ms: float
    planned_ms: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LandingMoved(TellsLanding):
    """The landing point is elsewhere than the one that was told before."""

    kind: ClassVar = AlertKind.LANDING_MOVED


@dataclass(frozen=True, slots=True, kw_only=True)
class OffPlan(TellsLanding):
    """How far, and which way, the landing is from the planned one."""

    kind: ClassVar = AlertKind.OFF_PLAN
    off_m: float
    bearing_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MayLandInside(TellsLanding):
    """The share of the ensemble that comes down in ``area``, which is to be kept out of."""

    kind: ClassVar = AlertKind.KEEP_OUT
    area: str
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ClimbingFast(TellsLanding):
    kind: ClassVar = AlertKind.CLIMBING_FAST
    ascent_rate_ms: float
    planned_ms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ClimbingSlowly(TellsLanding):
    kind: ClassVar = AlertKind.CLIMBING_SLOWLY
    ascent_rate_ms: float
    planned_ms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StillClimbing(TellsLanding):
    kind: ClassVar = AlertKind.STILL_CLIMBING
    altitude_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AltitudeFrozen(TellsLanding):
    """The height at which the tracker's heights stand still."""

    kind: ClassVar = AlertKind.ALTITUDE_FROZEN
    altitude_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackersDisagree(TellsLanding):
    kind: ClassVar = AlertKind.TRACKERS_DISAGREE
    apart_m: float


class SilenceCause(StrEnum):
    """What a silence is taken to mean."""

    SOURCE_AWAY = "source-away"
    DOWN = "down"
    BELOW_HORIZON = "below-horizon"
    STILL_ABOVE_CEILING = "still-above-ceiling"
    NOT_EXPECTED = "not-expected"
    NOT_EXPECTED_WITHOUT_BASE = "not-expected-without-base"


class OnGround(StrEnum):
    """What is to be known of a tracker that lies on the ground."""

    RADIO_REACHES_LITTLE = "radio-reaches-little"
    CELLULAR_NEEDS_NETWORK = "cellular-needs-network"
    NEEDS_SKY = "needs-sky"


@dataclass(frozen=True, slots=True, kw_only=True)
class Silent(TellsLanding):
    """``source`` is that of the last fix; ``by_now`` is where it should be in the air, and
    ``by_now_90_m`` holds nine tenths of the heights that it may have there."""

    kind: ClassVar = AlertKind.SILENT
    silent_s: float
    cause: SilenceCause
    source: str = ""
    by_now: Place | None = None
    by_now_90_m: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardAgain(TellsLanding):
    """``on_ground`` where it was to be down by then, and is low, or lies at one place: so many
    fixes within so many metres. ``height_m`` is what was heard where that came without a place."""

    kind: ClassVar = AlertKind.HEARD_AGAIN
    silent_s: float
    on_ground: bool = False
    height_m: float | None = None
    fixes: int | None = None
    within_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SignalLoss:
    """Base will lose the signal at this height above ground, in so long."""

    agl_m: float
    in_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchdownSoon(TellsLanding):
    kind: ClassVar = AlertKind.TOUCHDOWN_SOON
    remaining_s: float
    loss: SignalLoss | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShouldBeDown(TellsLanding):
    """``hints`` are what is to be known of its trackers on the ground; ``ago_s`` is since when it
    likely lies, where that is told."""

    kind: ClassVar = AlertKind.SHOULD_BE_DOWN
    hints: tuple[OnGround, ...] = ()
    ago_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Landed(TellsLanding):
    """So many fixes lie within so many metres; None where nobody counted."""

    kind: ClassVar = AlertKind.LANDED
    fixes: int | None = None
    within_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedAfterLanding:
    kind: ClassVar = AlertKind.MOVED_AFTER_LANDING
    moved_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CalledOff:
    """``who`` said that what was told is no flight, or took that ``back``."""

    kind: ClassVar = AlertKind.CALLED_OFF
    who: str = ""
    back: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class StationNotice:
    """Of the station itself: what is the matter, and more about it."""

    kind: ClassVar = AlertKind.STATION
    what: str
    more: str = ""


Facts = (
    Launched
    | Burst
    | Floating
    | FallingFast
    | FallingSlowly
    | LandingMoved
    | OffPlan
    | MayLandInside
    | ClimbingFast
    | ClimbingSlowly
    | StillClimbing
    | AltitudeFrozen
    | TrackersDisagree
    | Silent
    | HeardAgain
    | TouchdownSoon
    | ShouldBeDown
    | Landed
    | MovedAfterLanding
    | CalledOff
    | StationNotice
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """How far, and which way, a landing point is from the one that was told before."""

    distance_m: float
    bearing_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Alert:
    """Something the person is to be told, once per ``key``.

    ``fix`` is the newest of its flight. ``moved`` tells how its landing point differs from the one
    told before, None where none was told. ``instruction`` is what is to be done now. ``thread``
    groups alerts of which only the newest is worth delivering ("" = each is). After
    ``useful_for_s`` it is not worth delivering any more.
    """

    key: AlertKey
    time_utc: float
    phase: Phase
    facts: Facts
    urgency: Urgency = Urgency.NORMAL
    fix: Fix | None = None
    moved: Moved | None = None
    instruction: Instruction | None = None
    thread: str = ""
    useful_for_s: float = 6 * 3600.0

    @property
    def payload(self) -> str:
        """Of what it tells: a payload, or the station."""
        return self.key.payload

    @property
    def kind(self) -> AlertKind:
        return self.key.kind

    @property
    def landing(self) -> Landing | None:
        """The landing estimate that it tells."""
        return self.facts.landing if isinstance(self.facts, TellsLanding) else None

    @property
    def measured(self) -> Fix | None:
        """The fix from the ground that it tells, rather than an estimate."""
        match self.facts:
            case MovedAfterLanding() | HeardAgain(on_ground=True):
                return self.fix
            case Landed(landing=None):
                return self.fix
            case _:
                return None

    @property
    def point(self) -> Place | None:
        """The place that it tells as that of the landing."""
        place = self.measured or self.landing
        if place is None:
            return None
        height = place.ground_m if isinstance(place, Landing) else place.altitude_m
        return Place(
            latitude_deg=place.latitude_deg, longitude_deg=place.longitude_deg, altitude_m=height
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """An alert in words, as it goes to the outbox and to the phone."""

    alert: Alert
    title: str
    body: str
    link: str = ""
    """To a map with the place that it tells."""

    @property
    def instruction(self) -> str:
        """What is to be done: the first line."""
        return self.body.partition("\n")[0]
