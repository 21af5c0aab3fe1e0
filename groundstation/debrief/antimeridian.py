"""Lines and rings that cross the 180th meridian, cut there as RFC 7946 (3.1.9) asks."""

from collections.abc import Sequence
from itertools import pairwise

HALF, WHOLE = 180.0, 360.0  # degrees of longitude

Position = tuple[float, float, float | None]
"""Longitude and latitude in degrees, height in metres."""


def cut_line(positions: Sequence[Position]) -> list[list[Position]]:
    """The same line in parts that stay between -180 and 180 degrees. At a cut both parts end on
    the meridian, at the latitude and height between the two positions."""
    parts: list[list[Position]] = [list(positions[:1])]
    for (lon, lat, height), (other, to, then) in pairwise(positions):
        if abs(other - lon) > HALF:
            edge = HALF if lon > 0.0 else -HALF
            way = other - lon + (WHOLE if edge > 0.0 else -WHOLE)
            share = (edge - lon) / way if way else 0.0
            between = lat + share * (to - lat)
            high = None if height is None or then is None else height + share * (then - height)
            parts[-1].append((edge, between, high))
            parts.append([(-edge, between, high)])
        parts[-1].append((other, to, then))
    return parts


def cut_ring(ring: Sequence[tuple[float, float]]) -> list[list[tuple[float, float]]]:
    """A closed ring as one, or as one on each side of the meridian. Its longitudes may jump by a
    whole turn, or go on beyond 180."""
    whole = [ring[0]]
    for lon, lat in ring[1:]:
        turns = round((lon - whole[-1][0]) / WHOLE)
        whole.append((lon - WHOLE * turns, lat))
    low, high = min(lon for lon, _ in whole), max(lon for lon, _ in whole)
    if low >= -HALF and high <= HALF:
        return [whole]
    edge = HALF if high > HALF else -HALF
    parts = []
    for side in (-1.0, 1.0):
        kept = _half(whole, edge, side)
        outside = side * edge > 0.0
        move = -WHOLE * (1.0 if edge > 0.0 else -1.0) if outside else 0.0
        if len(kept) > 3:
            parts.append([(lon + move, lat) for lon, lat in kept])
    return parts


def _half(
    ring: Sequence[tuple[float, float]], edge: float, side: float
) -> list[tuple[float, float]]:
    """What of a ring lies on one side of a meridian (Sutherland and Hodgman 1974), closed."""
    kept: list[tuple[float, float]] = []
    for (lon, lat), (other, to) in pairwise(ring):
        here, there = side * (lon - edge) >= 0.0, side * (other - edge) >= 0.0
        if here:
            kept.append((lon, lat))
        if here != there:
            kept.append((edge, lat + (edge - lon) / (other - lon) * (to - lat)))
    return [*kept, kept[0]] if kept else []
