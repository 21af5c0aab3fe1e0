"""GeoJSON (RFC 7946) as features: the one reader for feeds, recordings, hazards and keep-outs.

It stands here because decoders import no other room, and it is what they are: bytes in, records
out, without I/O. Shapes as arrays are made of it in ``geo/shapes.py``.
"""

import json
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """As the file has it; ``geometry`` is None, or ``properties`` empty, where it has no object."""

    geometry: dict[str, Any] | None
    properties: dict[str, Any] = field(default_factory=dict)


def features(data: bytes, *, numbers_as_text: bool = False) -> tuple[Feature | None, ...] | None:
    """The features of a collection, or the one that the file is, a bare geometry too.

    None stands for an item that is no object, and instead of all where the data are no GeoJSON.
    With ``numbers_as_text`` numbers keep the digits they were written with. Raises ValueError for
    data that are no JSON.
    """
    hook = str if numbers_as_text else None
    try:
        document = json.loads(data, parse_int=hook, parse_float=hook, parse_constant=hook)
    except RecursionError as error:
        raise ValueError("it is nested too deeply") from error
    if not isinstance(document, dict):
        return None
    if isinstance(document.get("features"), list):
        return tuple(map(_feature, document["features"]))
    match document.get("type"):
        case "Feature":
            return (_feature(document),)
        case str() if "coordinates" in document or "geometries" in document:
            return (Feature(geometry=document),)
    return None


def _feature(item: object) -> Feature | None:
    if not isinstance(item, dict):
        return None
    geometry, properties = item.get("geometry"), item.get("properties")
    return Feature(
        geometry=geometry if isinstance(geometry, dict) else None,
        properties=properties if isinstance(properties, dict) else {},
    )
