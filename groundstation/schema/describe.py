"""Told records as JSON Schema (2020-12, which OpenAPI 3.1 takes)."""

from collections.abc import Iterable
from typing import Any, Final

from groundstation.schema.fields import age_name
from groundstation.schema.shape import Kind, Told, has_links, shape

Schema = dict[str, Any]
TIME: Final[Schema] = {"type": "string", "format": "date-time"}
_PLAIN: Final = {str: "string", int: "integer", bool: "boolean"}


def schemas(records: Iterable[type], *, ages: bool = True) -> dict[str, Schema]:
    """Each record and all that it holds, by name, as they stand under ``components``; with what
    stands beside times and places for who asks once (``encode.record_json``), or without."""
    found: dict[str, Schema] = {}
    waiting = list(records)
    while waiting:
        record = waiting.pop()
        if record.__name__ not in found:
            found[record.__name__] = _object(record, ages)
            waiting += [held for entry in shape(record) for held in records_in(entry.kind)]
    return dict(sorted(found.items()))


def reference(record: type) -> Schema:
    return {"$ref": f"#/components/schemas/{record.__name__}"}


def records_in(kind: Kind) -> list[type]:
    """The records that a value holds."""
    inner = [part for part in (kind.items, kind.values, *kind.pair) if part is not None]
    own = [] if kind.record is None else [kind.record]
    return own + [record for part in inner for record in records_in(part)]


def _object(record: type, ages: bool) -> Schema:
    properties: Schema = {}
    needed = []
    for entry in shape(record):
        properties[entry.name] = {**value_schema(entry.kind), "description": entry.what}
        if not entry.if_any:
            needed.append(entry.name)
        moment = entry.kind.moment
        if ages and moment is not None and not moment.alone:
            name = age_name(entry.name, moment)
            until = "until then" if moment.ahead else "since then"
            properties[name] = {
                **_or_null(entry.kind.optional, {"type": "number"}),
                "description": f"Seconds of the station's time {until}, when this was told.",
            }
            needed.append(name)
    if ages and has_links(record):
        properties["geo"] = {"type": "string", "description": "Opens it in the phone's map."}
        properties["map"] = {"type": "string", "description": "Opens it in a map of the web."}
        needed += ["geo", "map"]
    return {
        "type": "object",
        "description": " ".join((record.__doc__ or "").split()),
        "properties": properties,
        "required": needed,
    }


def value_schema(kind: Kind) -> Schema:
    return _or_null(kind.optional, _inner(kind))


def _or_null(optional: bool, schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "null"}]} if optional else schema


def _inner(kind: Kind) -> Schema:
    if kind.number is not None:
        bounds = {"minimum": kind.number.least, "maximum": kind.number.most}
        return {"type": "number", **{k: v for k, v in bounds.items() if v is not None}}
    if kind.moment is not None:
        return TIME
    if kind.region:
        return {
            "type": "object",
            "description": "A GeoJSON Polygon or MultiPolygon, longitude first (RFC 7946).",
            "properties": {
                "type": {"enum": ["Polygon", "MultiPolygon"]},
                "coordinates": {"type": "array"},
            },
            "required": ["type", "coordinates"],
        }
    if kind.words is not None:
        return {"type": "string", "enum": [word.value for word in kind.words]}
    if kind.items is not None:
        return {"type": "array", "items": value_schema(kind.items)}
    if kind.pair:
        size = len(kind.pair)
        items = value_schema(kind.pair[0])
        return {"type": "array", "items": items, "minItems": size, "maxItems": size}
    if kind.values is not None:
        return {"type": "object", "additionalProperties": value_schema(kind.values)}
    if kind.record is not None:
        return reference(kind.record)
    assert kind.plain is not None
    return {"type": _PLAIN[kind.plain]}


def described(entry: Told) -> bool:
    """Whether a field says what it means."""
    return len(entry.what) > 3 and entry.what.endswith(".")
