"""Points, lines and areas of GeoJSON as arrays."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from groundstation.decoders.geojson import Feature, features
from groundstation.errors import ConfigurationError
from groundstation.language.catalogue import N_

Array = NDArray[np.float64]

MOST_FEATURES: Final = 20_000  # own choice: a region's power lines; a country's take too long
DEEPEST: Final = 4  # own choice, against collections in collections without end


class Form(StrEnum):
    POINT = "point"
    LINE = "line"
    AREA = "area"


@dataclass(frozen=True, slots=True)
class Shape:
    """``parts`` of shape (n, 2), longitude and latitude: points, lines, or closed rings with their
    holes (even-odd rule)."""

    form: Form
    parts: tuple[Array, ...]


def read_features(path: Path) -> tuple[Feature | None, ...]:
    """Those of a file; None for an item that is no object. Raises ``ConfigurationError``."""
    try:
        found = features(path.read_bytes())
    except (OSError, ValueError) as error:
        raise ConfigurationError(f"{path} can't be read as GeoJSON: {error}") from error
    if found is None:
        raise ConfigurationError(f"{path} is no GeoJSON FeatureCollection")
    if len(found) > MOST_FEATURES:
        raise ConfigurationError(
            f"{path} holds {len(found):,} features; cut it down to {MOST_FEATURES:,}"
        )
    return found


def shapes(geometry: dict[str, Any], depth: int = 0) -> Iterator[Shape]:
    """What a geometry is made of. Raises ValueError, KeyError, TypeError or AttributeError for what
    is none."""
    kind = geometry["type"]
    if kind == "GeometryCollection" and depth < DEEPEST:
        for inner in geometry["geometries"]:
            yield from shapes(inner, depth + 1)
        return
    where = geometry.get("coordinates")
    if not where:
        raise ValueError(f"a {kind} without coordinates")
    match kind:
        case "Polygon" | "MultiPolygon":
            polygons = [where] if kind == "Polygon" else where
            yield Shape(Form.AREA, tuple(_ring(ring) for polygon in polygons for ring in polygon))
        case "LineString" | "MultiLineString":
            lines = [where] if kind == "LineString" else where
            yield Shape(Form.LINE, tuple(_places(line) for line in lines))
        case "Point" | "MultiPoint":
            points = [where] if kind == "Point" else where
            yield Shape(Form.POINT, tuple(_places([point]) for point in points))
        case _:
            raise ValueError(f"a geometry of type {kind}")


def _ring(ring: list[Any]) -> Array:
    """Closed where the file leaves that open."""
    places = _places(ring)
    if len(places) < 3:
        raise ValueError(N_("a ring of fewer than three corners"))
    return places if np.array_equal(places[0], places[-1]) else np.vstack([places, places[:1]])


def _places(line: list[Any]) -> Array:
    places = np.array([pair[:2] for pair in line], dtype=float)
    if places.ndim != 2 or places.shape[1] != 2 or not np.all(np.isfinite(places)):
        raise ValueError(N_("a place that is not two numbers"))
    if np.abs(places[:, 1]).max() > 90.0 or np.abs(places[:, 0]).max() > 180.0:
        raise ValueError(N_("a place beyond 180° or 90°: longitude comes first, in degrees"))
    return places
