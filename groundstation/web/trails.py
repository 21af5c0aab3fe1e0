"""What only ever grows, such as a track, told piece by piece: who was away gets what is missing."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from groundstation.jsonout import JsonObject, degrees, metres, number
from groundstation.web.snapshot import StationSnapshot

KINDS: Final = ("track", "moves")


@dataclass(slots=True)
class _Trail:
    """``arrived`` holds (serial, point); ``begun`` is the serial at which it began anew."""

    begun: int
    points: tuple[Any, ...] = ()
    arrived: list[tuple[int, Any]] = field(default_factory=list)


class Trails:
    """The tracks and moves of all payloads. ``serial`` counts what was ever told."""

    def __init__(self) -> None:
        self.serial = 0
        self._trails: dict[tuple[str, str], _Trail] = {}

    def look(self, snapshot: StationSnapshot) -> None:
        """Take in what is new."""
        for payload in snapshot.payloads:
            for kind in KINDS:
                self._look_at(payload.payload, kind, getattr(payload, kind))

    def since(self, serial: int) -> Iterator[JsonObject]:
        """What somebody lacks who knows all up to ``serial``, as messages for the page."""
        for (payload, kind), trail in self._trails.items():
            anew = serial < trail.begun
            points = [point for at, point in trail.arrived if anew or at > serial]
            if points or (anew and trail.begun > 1):
                yield {
                    "payload": payload,
                    "trail": kind,
                    "anew": anew,
                    "points": [_track_point(p) if kind == "track" else _move(p) for p in points],
                }

    def _look_at(self, payload: str, kind: str, points: tuple[Any, ...]) -> None:
        trail = self._trails.get((payload, kind))
        if trail is None:
            self.serial += 1
            trail = self._trails[payload, kind] = _Trail(self.serial)
        if points is trail.points:
            return
        known = set(trail.points)
        if not known.issubset(points):
            # Thinned, taken back, or a new flight.
            self.serial += 1
            trail.begun, trail.arrived = self.serial, []
            known = set()
        for point in points:
            if point not in known:
                self.serial += 1
                trail.arrived.append((self.serial, point))
        trail.points = points


def _track_point(point: Sequence[float | None]) -> list[float | None]:
    time_utc, lat, lon, altitude = point
    return [number(time_utc, 1), degrees(lat), degrees(lon), metres(altitude)]


def _move(point: Sequence[float | None]) -> list[float | None]:
    time_utc, lat, lon, radius = point
    return [number(time_utc, 1), degrees(lat), degrees(lon), metres(radius)]
