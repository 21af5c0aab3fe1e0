"""What was measured beside the positions, over time, thinned for a drawing."""

import asyncio
from collections import defaultdict
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Final

from groundstation.clock import Clock
from groundstation.flight.flights import Flights
from groundstation.store.reader import Reader

MOST_SERIES: Final = 12  # own choice: as many drawings as anybody looks through
POINTS: Final = 160  # own choice: one for each two units of the drawing
BEFORE_S: Final = 3_600.0  # own choice: an hour before the launch shows whether it was well there
WITHOUT_LAUNCH_S: Final = 6 * 3_600.0  # own choice: a morning of getting ready

Point = tuple[float, float]


class Telemetry:
    """Reads from the store, in a thread, when it is asked."""

    def __init__(self, flights: Flights, database: Path, clock: Clock) -> None:
        self._flights = flights
        self._database = database
        self._clock = clock

    async def series(self, payload: str) -> dict[str, tuple[Point, ...]] | None:
        if payload not in self._flights.payloads:
            return None
        launch = self._flights.state(payload).motion.launch
        since_utc = self._clock.now_utc() - WITHOUT_LAUNCH_S
        if launch is not None:
            since_utc = launch.time_utc - BEFORE_S
        return await asyncio.to_thread(self._read, payload, since_utc)

    def _read(self, payload: str, since_utc: float) -> dict[str, tuple[Point, ...]]:
        with Reader(self._database) as reader:
            return by_name(reader.telemetry(payload, since_utc))


def by_name(
    rows: Iterable[tuple[str, float, tuple[tuple[str, float], ...]]],
) -> dict[str, tuple[Point, ...]]:
    """Of (tracker, time in UTC, names with values). Where several trackers send a name, each has
    its own, with the tracker's name behind it; of too many those that were sent most often."""
    found: dict[str, dict[str, list[Point]]] = defaultdict(lambda: defaultdict(list))
    for tracker, time_utc, pairs in rows:
        for name, value in pairs:
            found[name][tracker].append((time_utc, value))
    named = {
        name if len(trackers) == 1 else f"{name} ({tracker})": points
        for name, trackers in found.items()
        for tracker, points in trackers.items()
    }
    fullest = sorted(named, key=lambda name: (-len(named[name]), name))[:MOST_SERIES]
    return {name: tuple(thinned(named[name])) for name in sorted(fullest)}


def thinned(points: list[Point]) -> Iterator[Point]:
    """The least and the most of each stretch of time, so that no outlier is lost."""
    points = sorted(points)
    if len(points) <= POINTS:
        yield from points
        return
    begin, end = points[0][0], points[-1][0]
    step = (end - begin) / (POINTS / 2) or 1.0
    stretches: dict[int, list[Point]] = defaultdict(list)
    for point in points:
        stretches[int((point[0] - begin) / step)].append(point)
    for stretch in stretches.values():
        least = min(stretch, key=lambda sample: sample[1])
        most = max(stretch, key=lambda sample: sample[1])
        yield from sorted({least, most})
