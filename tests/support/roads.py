"""Drives, rides by rail and walks as a tracker would tell them, invented: made of legs with bends,
crossings, villages and stops, driven as fast as a bend lets one.

Sizes are of common practice in the design of roads and railways (from memory): radii of 50 to 500 m
on country roads, 700 to 4,000 m on motorways and lines; 2 m/s2 aside is what passengers bear.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

ASIDE_MS2 = 2.0
SPEED_UP_MS2 = 1.2
RAIL_MS2 = 0.4


class Way(StrEnum):
    TOWN = "town"
    COUNTRY = "country"
    WINDING = "winding"
    MOTORWAY = "motorway"
    RAIL = "rail"
    CYCLE = "cycle"
    WALK = "walk"


@dataclass(frozen=True)
class Piece:
    """A piece of a way: so long, bent with this radius (m; 0 is straight), no faster than this, and
    with a stop of so many seconds at its end; ``turn_deg`` at the end."""

    length_m: float
    radius_m: float
    most_ms: float
    stop_s: float = 0.0
    turn_deg: float = 0.0


def _pieces(way: Way, rng: np.random.Generator) -> Iterator[Piece]:
    habit = float(rng.uniform(0.85, 1.1))
    while True:
        match way:
            case Way.TOWN:
                turn = 90.0 * float(rng.random() < 0.3)
                stop = float(rng.uniform(5.0, 60.0)) if rng.random() < 0.3 else 0.0
                speed = habit * 13.5
                yield Piece(float(rng.uniform(100.0, 600.0)), 0.0, speed, stop, turn)
            case Way.COUNTRY:
                kind = rng.random()
                if kind < 0.12:  # a village
                    for _ in range(int(rng.integers(2, 6))):
                        yield Piece(float(rng.uniform(200.0, 500.0)), 300.0, habit * 13.5)
                elif kind < 0.2:  # a crossing
                    turn = float(rng.choice([0.0, 80.0]))
                    yield Piece(100.0, 0.0, habit * 15.0, float(rng.uniform(0.0, 25.0)), turn)
                elif kind < 0.6:
                    yield Piece(float(rng.uniform(300.0, 3_000.0)), 0.0, habit * 24.0)
                else:
                    radius = float(rng.uniform(150.0, 1_500.0))
                    yield Piece(float(rng.uniform(100.0, 500.0)), radius, habit * 24.0)
            case Way.WINDING:
                radius = float(rng.uniform(40.0, 300.0))
                yield Piece(float(rng.uniform(40.0, 250.0)), radius, habit * 20.0)
                if rng.random() < 0.04:
                    yield Piece(300.0, 0.0, habit * 13.5, float(rng.uniform(0.0, 15.0)))
            case Way.MOTORWAY:
                if rng.random() < 0.5:
                    yield Piece(float(rng.uniform(500.0, 6_000.0)), 0.0, habit * 33.0)
                else:
                    radius = float(rng.uniform(1_000.0, 6_000.0))
                    yield Piece(float(rng.uniform(500.0, 3_000.0)), radius, habit * 33.0)
            case Way.RAIL:
                for _ in range(int(rng.integers(3, 25))):
                    radius = float(rng.uniform(700.0, 6_000.0)) * float(rng.random() < 0.4)
                    yield Piece(float(rng.uniform(500.0, 5_000.0)), radius, habit * 33.0)
                yield Piece(500.0, 0.0, habit * 20.0, float(rng.uniform(45.0, 240.0)))
            case Way.CYCLE | Way.WALK:
                most = habit * (5.5 if way is Way.CYCLE else 1.4)
                bend = rng.random() < 0.6
                radius = float(rng.uniform(30.0, 400.0)) if bend else 0.0
                turn = 70.0 * float(rng.random() < 0.1)
                stop = float(rng.uniform(5.0, 120.0)) if rng.random() < 0.04 else 0.0
                yield Piece(float(rng.uniform(50.0, 400.0)), radius, most, stop, turn)


def ride(way: Way, seed: int, seconds: int) -> tuple[Array, Array]:
    """Metres east and north, each second from the start on, shape (seconds,)."""
    rng = np.random.default_rng([seed, list(Way).index(way)])
    gain = RAIL_MS2 if way is Way.RAIL else SPEED_UP_MS2
    x, y = np.zeros(seconds), np.zeros(seconds)
    goal = float(rng.uniform(0.0, 2.0 * np.pi))
    heading, speed, at = goal + float(rng.normal(0.0, 0.6)), 0.0, 0
    pieces = _pieces(way, rng)
    piece, onward = next(pieces), next(pieces)
    done, traffic, side = 0.0, 0.0, 1.0
    while at + 1 < seconds:
        traffic += -traffic / 30.0 + 0.03 * float(rng.standard_normal())
        left = piece.length_m - done
        after = 0.0 if piece.stop_s else 3.0 if piece.turn_deg else _fastest(onward)
        wanted = min(_fastest(piece) * (1.0 - min(abs(traffic), 0.6)), _braked(after, left, gain))
        speed += float(np.clip(wanted - speed, -2.5 * gain, gain))
        speed = max(speed, 0.5)
        if piece.radius_m:
            heading += side * speed / piece.radius_m
        at += 1
        x[at] = x[at - 1] + speed * np.sin(heading)
        y[at] = y[at - 1] + speed * np.cos(heading)
        done += speed
        if done >= piece.length_m:
            if piece.stop_s:
                until = min(at + int(piece.stop_s), seconds - 1)
                x[at : until + 1], y[at : until + 1] = x[at], y[at]
                at, speed = until, 0.0
            heading += _side(heading - goal, rng) * float(np.radians(piece.turn_deg))
            piece, onward, done = onward, next(pieces), 0.0
            side = _side(heading - goal, rng)
    return x, y


def _side(off_rad: float, rng: np.random.Generator) -> float:
    """To which side the next bend goes: roads lead somewhere, so most often back."""
    back = -float(np.sign(np.sin(off_rad))) or 1.0
    return back if rng.random() < 0.5 + 0.5 * min(abs(off_rad), 1.0) else -back


def _fastest(piece: Piece) -> float:
    if not piece.radius_m:
        return piece.most_ms
    return min(piece.most_ms, float(np.sqrt(ASIDE_MS2 * abs(piece.radius_m))))


def _braked(then_ms: float, left_m: float, gain: float) -> float:
    """As fast as one may be with so much left before it must be slower."""
    return float(np.sqrt(then_ms**2 + 2.0 * gain * max(left_m, 0.0)))
