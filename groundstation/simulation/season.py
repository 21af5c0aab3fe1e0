"""A tracker's days as a whole: pieces one after the other, as they are heard, and their truth.

The scenario is invented, as all of the simulator's.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

import numpy as np

from groundstation.simulation.randomness import Stream, stream
from groundstation.simulation.settings import HOME, LAUNCH_UTC, Manner, Site
from groundstation.simulation.stretches import (
    Happening,
    Stretch,
    drive,
    flight,
    glitch,
    indoors,
    rest,
    silence,
    tether,
    train,
)

SITES: Final = (
    Site(),
    Site(latitude_deg=46.9300, longitude_deg=20.0500, ground_m=87.0),
    Site(latitude_deg=47.6200, longitude_deg=20.3100, ground_m=210.0),
    Site(latitude_deg=47.3400, longitude_deg=19.8800, ground_m=120.0),
)
"""Places on the plain and at the foot of the hills, chosen freely."""

DAY_S: Final = 86_400.0  # a day
MORNING_S: Final = 6 * 3_600.0  # own choice: before any launch
RECEPTION_S: Final = 2.0  # own choice: a packet is on its way for a moment


@dataclass(frozen=True, slots=True)
class Heard:
    """One fix as it came in; ``altitude_m`` is None where the tracker sends none."""

    time_utc: float
    received_utc: float
    latitude_deg: float
    longitude_deg: float
    altitude_m: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """What was heard, in order, and what really happened, in order."""

    heard: tuple[Heard, ...]
    happened: tuple[tuple[Happening, float], ...]


def heard_of(
    pieces: Iterable[Stretch],
    *,
    seed: int = 1,
    interval_s: float = 60.0,
    lost_share: float = 0.05,
    heights: bool = True,
    clock_off_s: Callable[[float], float] = lambda _at: 0.0,
) -> Season:
    """What a tracker that sends each ``interval_s`` would have told of these pieces.

    ``clock_off_s`` gives, for a true time, how far the tracker's own clock is ahead.
    """
    rng = stream(seed, Stream.TRACKER)
    heard: list[Heard] = []
    happened: list[tuple[Happening, float]] = []
    due = 0.0
    for piece in pieces:
        happened += piece.happened
        begin, size = float(piece.time_utc[0]), piece.time_utc.size
        due = max(due, begin + float(rng.uniform(0.0, interval_s)))
        while due < begin + size:
            at = min(int(due - begin), size - 1)
            if piece.heard and rng.random() >= lost_share:
                heard.append(
                    Heard(
                        due + clock_off_s(due),
                        due + RECEPTION_S,
                        float(piece.latitude_deg[at]),
                        float(piece.longitude_deg[at]),
                        float(piece.altitude_m[at]) if heights else None,
                    )
                )
            due += interval_s * float(rng.uniform(0.97, 1.03))
    return Season(heard=tuple(heard), happened=tuple(sorted(happened, key=lambda h: h[1])))


class _Diary:
    """Puts pieces one after the other."""

    def __init__(self, rng: np.random.Generator, begin_utc: float) -> None:
        self._rng = rng
        self._begin_utc = begin_utc
        self.at_utc, self.where = begin_utc, HOME
        self.pieces: list[Stretch] = []

    def add(self, piece: Callable[[np.random.Generator, float, Site], Stretch]) -> None:
        made = piece(self._rng, self.at_utc, self.where)
        self.pieces.append(made)
        self.at_utc, self.where = made.end

    def rest(self, seconds: float) -> None:
        self.add(lambda rng, at, where: rest(rng, at, where, seconds))

    def drive(self, to: Site, hills_m: float = 0.0) -> None:
        self.add(lambda rng, at, where: drive(rng, at, where, to, hills_m=hills_m))

    def off_until(self, day: int, second: float = MORNING_S) -> None:
        """Switched off until so many seconds into the day."""
        wait_s = self._begin_utc + day * DAY_S + second - self.at_utc
        if wait_s > 0.0:
            self.add(lambda _rng, at, where: silence(at, where, wait_s))

    def carried(self) -> None:
        """Whatever comes next moves it away from where it came down."""
        moved = Happening.CARRIED, self.at_utc
        last = self.pieces[-1]
        self.pieces[-1] = replace(last, happened=(*last.happened, moved))

    def outing(self, site: Site, *, seed: int, hills_m: float, **how: object) -> None:
        """Driven out, flown, found after a while, and driven home."""
        self.rest(1_200.0)
        self.drive(site, hills_m)
        self.rest(float(self._rng.uniform(2_400.0, 5_400.0)))
        self.add(partial(flight, seed=seed, **how))  # type: ignore[arg-type]
        self.rest(float(self._rng.uniform(900.0, 3_600.0)))
        self.carried()
        self.drive(HOME, hills_m)
        self.rest(1_800.0)


def season(seed: int = 1, *, weeks: int = 3) -> tuple[Stretch, ...]:
    """Three weeks of one tracker: five flights at four sites, with drives over hills, tests indoors
    and on a line, false heights, a float that swings, and a way home by train."""
    rng = stream(seed, Stream.PLAN)
    diary = _Diary(rng, LAUNCH_UTC - LAUNCH_UTC % DAY_S)
    diary.off_until(0)
    diary.add(lambda r, at, where: indoors(r, at, where, 3 * 3_600.0))
    diary.off_until(1)
    diary.add(lambda r, at, where: tether(r, at, where, 2_400.0, 150.0))
    diary.rest(3_600.0)
    diary.off_until(2)
    diary.outing(SITES[0], seed=10 * seed + 1, hills_m=0.0)
    if weeks >= 2:
        diary.off_until(7)
        diary.outing(SITES[1], seed=10 * seed + 2, hills_m=120.0)
        diary.off_until(8)
        diary.add(lambda r, at, where: glitch(r, at, where, 3 * 3_600.0, 300.0))
        diary.off_until(9)
        diary.outing(SITES[2], seed=10 * seed + 3, hills_m=300.0, manner=Manner.FLOAT, wave_m=90.0)
    if weeks >= 3:
        diary.off_until(16)
        diary.rest(900.0)
        diary.drive(SITES[3], 200.0)
        diary.rest(3_000.0)
        diary.add(partial(flight, seed=10 * seed + 4))
        diary.carried()
        diary.add(lambda r, at, where: train(r, at, where, 2_700.0))
        diary.drive(HOME)
        diary.off_until(20)
        diary.outing(SITES[0], seed=10 * seed + 5, hills_m=100.0)
    return tuple(diary.pieces)
