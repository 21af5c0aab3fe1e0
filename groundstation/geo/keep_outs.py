"""Where it must not come down, from GeoJSON: areas, and lines and points with a width.

A town is an area; a railway or a school is often given as a line or a point, which no landing ever
hits. So those get a width: ``WIDTH_M``, or what the feature's property ``width_m`` says. What can't
be read is counted and told, never dropped without a word.
"""

import json
import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from groundstation.errors import ConfigurationError
from groundstation.physics.geodesy import Plane
from groundstation.physics.region import inside, within

Array = NDArray[np.float64]

WIDTH_M: Final = 200.0
"""Across, of a line or a point without a width: own choice, a hundred metres to each side of a road
or around a house, about as fine as a thousand members can tell."""

WIDEST_M: Final = 20_000.0
MOST_FEATURES: Final = 20_000
DEEPEST: Final = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptOut:
    """One of them. ``parts`` are of shape (n, 2): longitude, latitude; closed rings with their
    holes (even-odd rule) where ``half_width_m`` is 0, else lines or points with that much on each
    side."""

    name: str
    parts: tuple[Array, ...]
    half_width_m: float = 0.0

    def holds(self, plane: Plane, x_m: Array, y_m: Array) -> NDArray[np.bool_]:
        """Which of the points, in metres east and north in ``plane``, lie in it."""
        lines = [plane.to_xy(part[:, 1], part[:, 0]) for part in self.parts]
        if self.half_width_m > 0.0:
            return within(x_m, y_m, lines, self.half_width_m)
        return inside(x_m, y_m, lines)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOuts:
    """A whole file: what it holds, and in words what was made of it."""

    kept: tuple[KeptOut, ...]
    told: str


def read_keep_outs(path: Path) -> KeepOuts:
    """Raises ``ConfigurationError`` for a file that is no GeoJSON, or holds nothing that can be
    kept out of."""
    try:
        told = json.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError) as error:
        raise ConfigurationError(f"{path} can't be read as GeoJSON: {error}") from error
    features = _features(told)
    if features is None:
        raise ConfigurationError(f"{path} is no GeoJSON FeatureCollection")
    if len(features) > MOST_FEATURES:
        raise ConfigurationError(
            f"{path} holds {len(features):,} features; cut it down to {MOST_FEATURES:,}"
        )
    kept: list[KeptOut] = []
    counted: Counter[str] = Counter()
    widths: dict[str, set[float]] = {"line": set(), "point": set()}
    ignored: Counter[str] = Counter()
    for feature in features:
        try:
            # A geometry that is half good is not half kept.
            found = list(_read(feature))
        except (KeyError, TypeError, ValueError, AttributeError) as error:
            ignored[str(error) if type(error) is ValueError else "not GeoJSON"] += 1
            continue
        for what, one in found:
            counted[what] += 1
            if what != "area":
                widths[what].add(2.0 * one.half_width_m)
            kept.append(one)
    words = [f"{_many(counted['area'], 'area')} read"]
    words += [
        f"{_many(counted[what], what)} widened to {_metres(widths[what])}"
        for what in ("line", "point")
        if counted[what]
    ]
    if ignored:
        why = "; ".join(f"{reason} ({n})" if n > 1 else reason for reason, n in ignored.items())
        words.append(f"{_many(sum(ignored.values()), 'feature')} ignored: {why}")
    text = f"keep-outs: {', '.join(words)}"
    if not kept:
        raise ConfigurationError(f"{path} holds nothing to keep out of ({text}); mend the file")
    return KeepOuts(kept=tuple(kept), told=text)


def _features(told: object) -> list[Any] | None:
    """Those of a collection, or the one that the file is."""
    if not isinstance(told, dict):
        return None
    if isinstance(told.get("features"), list):
        return list(told["features"])
    match told.get("type"):
        case "Feature":
            return [told]
        case str() if "coordinates" in told or "geometries" in told:
            return [{"type": "Feature", "properties": {}, "geometry": told}]
    return None


def _read(feature: dict[str, Any]) -> Iterator[tuple[str, KeptOut]]:
    told = feature.get("properties") or {}
    kind, name = told.get("kind") or "", told.get("name") or ""
    called = f"{kind} {name}".strip() or "an area without a name"
    geometry = feature.get("geometry")
    if geometry is None:
        raise ValueError("no geometry")
    yield from _shapes(geometry, called, told.get("width_m"))


def _shapes(
    geometry: dict[str, Any], name: str, width: object, depth: int = 0
) -> Iterator[tuple[str, KeptOut]]:
    form = geometry["type"]
    if form == "GeometryCollection" and depth < DEEPEST:
        for one in geometry["geometries"]:
            yield from _shapes(one, name, width, depth + 1)
        return
    where = geometry.get("coordinates")
    if not where:
        raise ValueError(f"a {form} without coordinates")
    match form:
        case "Polygon" | "MultiPolygon":
            polygons = [where] if form == "Polygon" else where
            rings = tuple(_ring(ring) for polygon in polygons for ring in polygon)
            yield "area", KeptOut(name=name, parts=rings)
        case "LineString" | "MultiLineString":
            lines = [where] if form == "LineString" else where
            parts = tuple(_places(line) for line in lines)
            yield "line", KeptOut(name=name, parts=parts, half_width_m=_half(width))
        case "Point" | "MultiPoint":
            points = [where] if form == "Point" else where
            parts = tuple(_places([point]) for point in points)
            yield "point", KeptOut(name=name, parts=parts, half_width_m=_half(width))
        case _:
            raise ValueError(f"a geometry of type {form}")


def _ring(ring: list[Any]) -> Array:
    """Closed where the file leaves that open."""
    places = _places(ring)
    if len(places) < 3:
        raise ValueError("a ring of fewer than three corners")
    return places if np.array_equal(places[0], places[-1]) else np.vstack([places, places[:1]])


def _places(line: list[Any]) -> Array:
    places = np.array([pair[:2] for pair in line], dtype=float)
    if places.ndim != 2 or places.shape[1] != 2 or not np.all(np.isfinite(places)):
        raise ValueError("a place that is not two numbers")
    if np.abs(places[:, 1]).max() > 90.0 or np.abs(places[:, 0]).max() > 180.0:
        raise ValueError("a place beyond 180° or 90°: longitude comes first, in degrees")
    return places


def _half(width: object) -> float:
    if width is None:
        return WIDTH_M / 2.0
    if isinstance(width, bool) or not isinstance(width, int | float) or not math.isfinite(width):
        raise ValueError("a width_m that is no number of metres")
    if not 0.0 < width <= WIDEST_M:
        raise ValueError(f"a width_m of {width:g}")
    return float(width) / 2.0


def _many(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _metres(widths: set[float]) -> str:
    low, high = min(widths), max(widths)
    return f"{low:.0f} m" if low == high else f"{low:.0f} to {high:.0f} m"
