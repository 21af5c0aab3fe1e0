"""What a person saw or heard of a flight, and what that says of how it flew.

A sighting is told to the fold with ``events.Sighted`` and taken back with ``events.Withdrawn``
(``Flights.sighted`` takes both); the state keeps them in ``FlightState.sightings``, and each
estimate made after that weighs them. Whoever makes one (the page, a command, a POST) gives it a
number that no other of the payload has, by which it is taken back. People err: each kind says
nothing at all with the chance ``MISTAKEN``, so that none of them can rule out what fixes show.

Bearings are from true north, clockwise, elevations above the horizon, in degrees. Errors are one
standard deviation.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.detection import detection
from groundstation.physics.geodesy import Plane

Array = NDArray[np.float64]

MISTAKEN: Final = 0.05
"""How often something else was seen than the person thought (own choice)."""
ANY_MOMENT_S: Final = 7_200.0
"""Who is mistaken may name any moment of so long, any direction, any place ``ANY_PLACE_M`` around
(own choices)."""
ANY_PLACE_M: Final = 10_000.0  # see ANY_MOMENT_S
MOMENT_SD_S: Final = 60.0
"""Of a moment that a person names: the minute of a watch (own choice)."""
COMPASS_SD_DEG: Final = 8.0
"""Of a bearing by a hand compass or a phone, and of an outstretched arm (own choice)."""
ELEVATION_SD_DEG: Final = 5.0  # own choice: a fist at arm's length is about ten degrees
ANTENNA_SD_DEG: Final = 15.0
"""Of a bearing by a small directional antenna (own choice: half of its usual width of beam)."""
HEARD_WITHIN_M: Final = 1_000.0
"""How far off a payload is heard or seen coming down (own choice)."""
LOOKED_CHANCE: Final = 0.5
"""How often a balloon that is there is seen by who looks for it (own choice)."""
LOOKED_WITHIN_DEG: Final = 20.0  # own choice: what the eye searches with care
POINT_REACH_M: Final = 50.0  # as search.looks.REACH_M of what was searched
POINT_CHANCE: Final = 0.8  # as search.looks.CHANCE: Koopman 1946
WIDTH: Final = math.sqrt(2.0 * math.pi)
"""Of a normal distribution: as wide as one of equal height with straight sides."""
CURVED_M: Final = 12_742_000.0
"""Twice the mean radius of the earth: at a distance d its surface lies d^2 / this lower."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sighting:
    """What all have: ``at_utc`` is the moment that it tells of, ``told_utc`` when it was told."""

    number: int
    at_utc: float
    told_utc: float
    who: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FromPlace(Sighting):
    """Where the person stood, in degrees; ``from_altitude_m`` above the sea, if that is known."""

    latitude_deg: float
    longitude_deg: float
    from_altitude_m: float = 0.0

    def __post_init__(self) -> None:
        """Raises ``ValueError`` with a sentence."""
        if not (-90.0 <= self.latitude_deg <= 90.0 and -180.0 <= self.longitude_deg <= 180.0):
            raise ValueError("where it was seen from is a latitude and a longitude in degrees")


@dataclass(frozen=True, slots=True, kw_only=True)
class LaunchSeen(Sighting):
    """It was let go. Where no height shows the launch, the flight begins with this."""

    sd_s: float = MOMENT_SD_S


@dataclass(frozen=True, slots=True, kw_only=True)
class BurstSeen(Sighting):
    """Its balloon was seen to burst, or to have burst."""

    sd_s: float = MOMENT_SD_S


@dataclass(frozen=True, slots=True, kw_only=True)
class InTheSky(FromPlace):
    """Seen in the sky in a direction; ``elevation_deg`` is None where that was not told."""

    bearing_deg: float
    bearing_sd_deg: float = COMPASS_SD_DEG
    elevation_deg: float | None = None
    elevation_sd_deg: float = ELEVATION_SD_DEG


@dataclass(frozen=True, slots=True, kw_only=True)
class NotInTheSky(FromPlace):
    """Looked for and not seen, within ``within_deg`` of a direction (any elevation, where that is
    None); ``chance`` is how likely it would have been seen there."""

    bearing_deg: float
    elevation_deg: float | None = None
    within_deg: float = LOOKED_WITHIN_DEG
    chance: float = LOOKED_CHANCE


@dataclass(frozen=True, slots=True, kw_only=True)
class CameDown(FromPlace):
    """Seen or heard to come down, near to where the person stood."""

    sd_s: float = MOMENT_SD_S
    within_m: float = HEARD_WITHIN_M


@dataclass(frozen=True, slots=True, kw_only=True)
class RadioBearing(FromPlace):
    """Its signal comes from there, whether it flies or lies."""

    bearing_deg: float
    bearing_sd_deg: float = ANTENNA_SD_DEG


@dataclass(frozen=True, slots=True, kw_only=True)
class NothingHere(FromPlace):
    """At the point, and it is not here; ``chance`` is how likely it would have been found within
    ``reach_m``."""

    reach_m: float = POINT_REACH_M
    chance: float = POINT_CHANCE


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked(Sighting):
    """A look of the search: along ``shape``, or over it with ``area``, as ``search.looks`` has
    them, by the eye or where somebody ``listened``. It found nothing, or ``heard`` the tracker."""

    shape: tuple[tuple[float, float], ...]
    area: bool
    reach_m: float
    chance: float
    listened: bool = False
    heard: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class NoFlight(Sighting):
    """What was told is no flight: a drive, a test, a tether (``called_off.py``)."""


AnySighting = (
    LaunchSeen
    | BurstSeen
    | InTheSky
    | NotInTheSky
    | CameDown
    | RadioBearing
    | NothingHere
    | NoFlight
)


def among(sightings: tuple[AnySighting, ...], new: AnySighting) -> tuple[AnySighting, ...]:
    """``sightings`` with ``new`` in its place in time, instead of one of the same number."""
    kept = (sighting for sighting in sightings if sighting.number != new.number)
    return tuple(sorted((*kept, new), key=lambda sighting: (sighting.at_utc, sighting.number)))


def without(sightings: tuple[AnySighting, ...], number: int) -> tuple[AnySighting, ...]:
    """``sightings`` without the one that was taken back."""
    return tuple(sighting for sighting in sightings if sighting.number != number)


def launch_seen(sightings: Iterable[AnySighting]) -> LaunchSeen | None:
    """The newest word of a launch."""
    words = [sighting for sighting in sightings if isinstance(sighting, LaunchSeen)]
    return words[-1] if words else None


def speaks_of_place(sighting: AnySighting | Looked) -> bool:
    """Whether it says where the payload is, and not only when."""
    return isinstance(sighting, FromPlace | Looked)


class Members(Protocol):
    """An ensemble of ``n`` flights. Times are seconds since 1970."""

    @property
    def launch_utc(self) -> Array: ...

    @property
    def burst_utc(self) -> Array: ...

    @property
    def touchdown_utc(self) -> Array: ...


class Placed(Members, Protocol):
    """Members of which the places are known: in metres of ``plane``."""

    @property
    def plane(self) -> Plane: ...

    def at(self, moment_utc: float) -> tuple[Array, Array, Array]:
        """East, north and height above the sea at a moment, each (n,)."""


def log_likelihood_of_times(sightings: Iterable[AnySighting | Looked], members: Members) -> Array:
    """What sightings say of when members were launched, burst and came down, whatever their
    places; (n,), at most 0."""
    total = np.zeros(len(members.touchdown_utc))
    for sighting in sightings:
        match sighting:
            case LaunchSeen():
                total += _moment(members.launch_utc, sighting, sighting.sd_s)
            case BurstSeen():
                total += _moment(members.burst_utc, sighting, sighting.sd_s)
            case CameDown():
                total += _moment(members.touchdown_utc, sighting, sighting.sd_s)
            case _:
                continue
    return total


def log_likelihood_of_places(sightings: Iterable[AnySighting | Looked], members: Placed) -> Array:
    """What sightings say of where members are or lie; (n,), at most 0."""
    total = np.zeros(len(members.touchdown_utc))
    for sighting in sightings:
        match sighting:
            case InTheSky():
                bearing, elevation, _ = _seen_from(sighting, members)
                off, near = (
                    _turn(bearing, sighting.bearing_deg) / sighting.bearing_sd_deg,
                    _turns(sighting),
                )
                if sighting.elevation_deg is not None:
                    above = (elevation - sighting.elevation_deg) / sighting.elevation_sd_deg
                    off, near = (
                        np.hypot(off, above),
                        near * sighting.elevation_sd_deg * WIDTH / 90.0,
                    )
                off = np.where(members.touchdown_utc > sighting.at_utc, off, np.inf)
                total += _sure(off, near)
            case NotInTheSky():
                bearing, elevation, _ = _seen_from(sighting, members)
                off = np.abs(_turn(bearing, sighting.bearing_deg))
                if sighting.elevation_deg is not None:
                    off = np.hypot(off, elevation - sighting.elevation_deg)
                there = (off < sighting.within_deg) & (elevation > 0.0)
                there &= members.touchdown_utc > sighting.at_utc
                total += np.where(there, math.log(1.0 - sighting.chance), 0.0)
            case RadioBearing():
                bearing, _, away = _seen_from(sighting, members)
                # So near that it may lie in any direction, a bearing says little.
                blur = np.degrees(np.arctan2(POINT_REACH_M, away))
                sd = np.hypot(sighting.bearing_sd_deg, blur)
                total += _sure(_turn(bearing, sighting.bearing_deg) / sd, _turns(sighting))
            case CameDown():
                away = _seen_from(sighting, members, landed=True)[2]
                total += _sure(
                    away / sighting.within_m, 2.0 * (sighting.within_m / ANY_PLACE_M) ** 2
                )
            case NothingHere():
                total += _looked(looked(sighting), members)
            case Looked():
                total += _looked(sighting, members)
            case _:
                continue
    return total


def looked(sighting: NothingHere) -> Looked:
    """Somebody at the point who finds nothing is a look like any other of the search."""
    return Looked(
        number=sighting.number,
        at_utc=sighting.at_utc,
        told_utc=sighting.told_utc,
        who=sighting.who,
        note=sighting.note,
        shape=((sighting.latitude_deg, sighting.longitude_deg),),
        area=False,
        reach_m=sighting.reach_m,
        chance=sighting.chance,
    )


def _looked(look: Looked, members: Placed) -> Array:
    """Of what lay there already when it was looked for."""
    east, north, _ = members.at(math.inf)
    found = detection(
        members.plane, east, north, look.shape,
        area=look.area, reach_m=look.reach_m, chance=look.chance, fades=look.listened,
    )  # fmt: skip
    says = np.log(np.maximum(found if look.heard else 1.0 - found, MISTAKEN))
    return np.where(members.touchdown_utc < look.at_utc, says, 0.0)


def _sure(off: Array, near: float) -> Array:
    """ln of a normal density over its peak, or of what is said by mistake: ``near`` is which share
    of that is as near as within the normal one's width."""
    floor = math.log(MISTAKEN * min(near, 1.0))
    return np.asarray(np.logaddexp(np.log1p(-MISTAKEN) - off**2 / 2.0, floor))


def _moment(members_utc: Array, sighting: Sighting, sd_s: float) -> Array:
    """What was seen had happened when it was told."""
    off = (members_utc - sighting.at_utc) / sd_s
    happened = members_utc <= max(sighting.told_utc, sighting.at_utc)
    return _sure(np.where(happened, off, np.inf), sd_s * WIDTH / ANY_MOMENT_S)


def _turns(sighting: InTheSky | RadioBearing) -> float:
    return sighting.bearing_sd_deg * WIDTH / 360.0


def _turn(bearing_deg: Array, from_deg: float) -> Array:
    """How far to turn, between -180 and 180 degrees."""
    return np.asarray((bearing_deg - from_deg + 180.0) % 360.0 - 180.0)


def _seen_from(
    stood: FromPlace, members: Placed, *, landed: bool = False
) -> tuple[Array, Array, Array]:
    """Bearing and elevation in degrees and distance along the ground in metres of each member, at
    the moment of a sighting, or where it lies in the end."""
    east, north, height = members.at(math.inf if landed else stood.at_utc)
    x, y = members.plane.to_xy(np.array(stood.latitude_deg), np.array(stood.longitude_deg))
    dx, dy = east - x, north - y
    away = np.hypot(dx, dy)
    rises = height - stood.from_altitude_m - away**2 / CURVED_M
    bearing = np.degrees(np.arctan2(dx, dy)) % 360.0
    return bearing, np.degrees(np.arctan2(rises, np.maximum(away, 1.0))), away
