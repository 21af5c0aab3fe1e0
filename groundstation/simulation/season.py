"""A tracker's days as a whole: pieces one after the other, as they are heard, and their truth.

The scenario is invented, as all of the simulator's.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final

from groundstation.simulation.randomness import Stream, stream
from groundstation.simulation.settings import Site
from groundstation.simulation.stretches import (
    Happening,
    Stretch,
)

HOME: Final = Site(latitude_deg=47.1800, longitude_deg=20.1900, ground_m=88.0)
DAY_S: Final = 86_400.0
RECEPTION_S: Final = 2.0


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
