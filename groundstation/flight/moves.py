"""How a landing point moved: during the flight, thinned to what a person can see; between two."""

from typing import Final, NamedTuple

from groundstation.flight.alert_records import Moved
from groundstation.physics.geodesy import distance_bearing
from groundstation.records import Landing, Place

STEP_S: Final = 30.0  # own choice: an estimate moves little within it
MOST: Final = 240
"""Own choices: a flight of three hours in about 240 steps of half a minute to a minute."""


class Move(NamedTuple):
    """Where the landing was expected at ``time_utc``, and within how many metres half of it."""

    time_utc: float
    latitude_deg: float
    longitude_deg: float
    radius_50_m: float


def with_landing(moves: tuple[Move, ...], landing: Landing) -> tuple[Move, ...]:
    """``moves`` with ``landing`` after them, if there is something to see."""
    new = Move(landing.time_utc, landing.latitude_deg, landing.longitude_deg, landing.radius_50_m)
    if moves and new.time_utc - moves[-1].time_utc < STEP_S:
        return moves
    if moves and moves[-1][1:] == new[1:]:
        return moves
    if len(moves) >= MOST:
        moves = (*moves[: MOST // 2 : 2], *moves[MOST // 2 :])
    return (*moves, new)


def moved_between(before: Place | None, now: Place | None) -> Moved | None:
    """How a point differs from the one before it; None where one of them is missing."""
    if before is None or now is None:
        return None
    away, bearing = distance_bearing(
        before.latitude_deg, before.longitude_deg, now.latitude_deg, now.longitude_deg
    )
    return Moved(distance_m=away, bearing_deg=bearing)
