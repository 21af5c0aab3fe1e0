"""The state as it travels to a page that stays open: without what the page can tell itself, and
after the first time only what has changed.

Ages are not in it, for the page reads them from the times; regions are drawn with fewer corners;
alerts stand under their keys. A change holds what is different: an object for an object, an object
with positions as names for an array of the same length, anything else whole. Under ``messages``
null takes an alert away, under ``telemetry`` a value.
"""

from typing import Any, Final

from groundstation.jsonout import JsonObject

CORNERS: Final = 18
"""About as many as can be told apart on a phone."""

WIDE_DEG: Final = 0.01  # a region wider than a kilometre needs no metres (own choice)

_REGIONS: Final = ("region_50", "region_90")


def lean(state: JsonObject) -> JsonObject:
    """What ``record_json`` gives, with thinned regions, and messages under their keys."""
    made = dict(state)
    made["messages"] = {message["key"]: message for message in made["messages"]}
    for payload in made["payloads"]:
        landing = payload["landing"]
        if landing is not None:
            payload["landing"] = {
                name: _thinned(value) if name in _REGIONS else value
                for name, value in landing.items()
            }
    return made


def change(before: Any, after: Any) -> Any:
    """What must be told to somebody who knows ``before``; an empty object where it is nothing."""
    changed: JsonObject = {}
    for name, value in after.items():
        if name not in before:
            changed[name] = value
        elif before[name] != value:
            changed[name] = _difference(before[name], value)
    for name in before.keys() - after.keys():
        changed[name] = None
    return changed


def _difference(before: Any, after: Any) -> Any:
    if isinstance(before, dict) and isinstance(after, dict):
        return change(before, after)
    if isinstance(before, list) and isinstance(after, list) and len(before) == len(after):
        pairs = enumerate(zip(before, after, strict=True))
        if all(isinstance(value, dict) for value in (*before, *after)):
            return {str(n): change(old, new) for n, (old, new) in pairs if old != new}
    return after


def _thinned(region: JsonObject) -> JsonObject:
    """The same areas with at most ``CORNERS`` corners each, evenly left out."""
    if region["type"] == "Polygon":
        rings = [region["coordinates"][0]]
    else:
        rings = [polygon[0] for polygon in region["coordinates"]]
    fewer = [[_fewer(ring)] for ring in rings]
    return {"type": "MultiPolygon", "coordinates": fewer}


def _fewer(ring: list[list[float]]) -> list[list[float]]:
    corners = ring[:-1]
    each = max(1.0, len(corners) / CORNERS)
    kept = [corners[int(n * each)] for n in range(min(CORNERS, len(corners)))]
    # 11 m are nothing in a region of kilometres.
    lats = [lat for _, lat in kept]
    decimals = 4 if max(lats) - min(lats) > WIDE_DEG else 5
    return [[round(lon, decimals), round(lat, decimals)] for lon, lat in (*kept, kept[0])]
