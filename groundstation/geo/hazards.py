"""What lies in the way of a search: water, power lines, railways, closed land, from GeoJSON files.

Features of RFC 7946 with the properties ``kind`` and ``name``; polygons, lines and points. What is
not in the file is not known: an empty list never means that nothing is there.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.decoders.geojson import Feature
from groundstation.errors import ConfigurationError
from groundstation.geo.shapes import Form, read_features, shapes
from groundstation.physics.geodesy import Plane
from groundstation.physics.region import inside

Array = NDArray[np.float64]

NEAR_M: Final = 2_000.0  # own choice: a walk of half an hour


@dataclass(frozen=True, slots=True)
class Hazard:
    """``parts`` are lines, rings or single points of shape (n, 2): longitude, latitude. ``kind`` is
    empty where the file does not tell it."""

    kind: str
    name: str
    area: bool
    parts: tuple[Array, ...]


@dataclass(frozen=True, slots=True)
class NearHazard:
    """A hazard near a place; 0 m where the place is inside it."""

    hazard: Hazard
    distance_m: float
    bearing_deg: float


def read_hazards(path: Path) -> tuple[Hazard, ...]:
    """Raises ``ConfigurationError`` for a file that holds no GeoJSON features."""
    try:
        return tuple(hazard for feature in read_features(path) for hazard in _hazards(feature))
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise ConfigurationError(f"{path} holds a feature that is not GeoJSON: {error}") from error


def near(
    hazards: tuple[Hazard, ...], latitude_deg: float, longitude_deg: float
) -> list[NearHazard]:
    """Those within ``NEAR_M``, the nearest first."""
    plane = Plane(latitude_deg, longitude_deg)
    found = [seen for seen in (_near(plane, hazard) for hazard in hazards) if seen is not None]
    return sorted(found, key=lambda seen: seen.distance_m)


def _near(plane: Plane, hazard: Hazard) -> NearHazard | None:
    best = (math.inf, 0.0)
    lines = [plane.to_xy(part[:, 1], part[:, 0]) for part in hazard.parts]
    for x, y in lines:
        px, py = _nearest(x, y)
        best = min(best, (math.hypot(px, py), math.degrees(math.atan2(px, py)) % 360.0))
    here = np.zeros(1)
    distance = 0.0 if hazard.area and inside(here, here, lines)[0] else best[0]
    return NearHazard(hazard, distance, best[1]) if distance <= NEAR_M else None


def _nearest(x: Array, y: Array) -> tuple[float, float]:
    """The point of the line that is nearest to the origin."""
    if len(x) == 1:
        return float(x[0]), float(y[0])
    dx, dy = np.diff(x), np.diff(y)
    length = np.maximum(dx * dx + dy * dy, 1e-12)
    along = np.clip(-(x[:-1] * dx + y[:-1] * dy) / length, 0.0, 1.0)
    px, py = x[:-1] + along * dx, y[:-1] + along * dy
    at = int(np.argmin(px * px + py * py))
    return float(px[at]), float(py[at])


def _hazards(feature: Feature | None) -> Iterator[Hazard]:
    if feature is None or feature.geometry is None:
        raise ValueError("it has no geometry")
    for shape in shapes(feature.geometry):
        yield Hazard(
            kind=str(feature.properties.get("kind") or ""),
            name=str(feature.properties.get("name", "")),
            area=shape.form is Form.AREA,
            parts=shape.parts,
        )
