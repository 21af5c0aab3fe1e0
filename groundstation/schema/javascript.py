"""Told records as types of TypeScript, which JavaScript's comments (JSDoc) can name and
``tsc --checkJs`` holds the page's scripts against. Ages and links are not among them: the page
makes them itself from times and places."""

from collections.abc import Iterable, Iterator

from groundstation.schema.describe import records_in
from groundstation.schema.shape import Kind, shape

HEAD = """// Made from the station's records by: python -m groundstation.web.page_types
// Don't change it here; a test says when it is not as the records are.

export type Region =
  | { type: "Polygon"; coordinates: number[][][] }
  | { type: "MultiPolygon"; coordinates: number[][][][] };
"""
_PLAIN = {str: "string", int: "number", bool: "boolean"}


def types_text(records: Iterable[type]) -> str:
    """One exported interface for each record and for what it holds."""
    found: dict[str, type] = {}
    waiting = list(records)
    while waiting:
        record = waiting.pop()
        if record.__name__ not in found:
            found[record.__name__] = record
            waiting += [held for entry in shape(record) for held in records_in(entry.kind)]
    parts = ["\n".join(_interface(record)) for _, record in sorted(found.items())]
    return "\n".join([HEAD, *(f"{part}\n" for part in parts)])


def _interface(record: type) -> Iterator[str]:
    yield f"/** {' '.join((record.__doc__ or '').split())} */"
    yield f"export interface {record.__name__} {{"
    for entry in shape(record):
        may = "?" if entry.if_any else ""
        yield f"  /** {entry.what} */"
        yield f"  {entry.name}{may}: {_type(entry.kind)};"
    yield "}"


def _type(kind: Kind) -> str:
    return f"{_inner(kind)} | null" if kind.optional else _inner(kind)


def _inner(kind: Kind) -> str:
    if kind.number is not None:
        return "number"
    if kind.moment is not None:
        return "string"
    if kind.region:
        return "Region"
    if kind.words is not None:
        return " | ".join(f'"{word.value}"' for word in kind.words)
    if kind.items is not None:
        return f"Array<{_type(kind.items)}>"
    if kind.pair:
        return f"[{', '.join(_type(part) for part in kind.pair)}]"
    if kind.values is not None:
        return f"Record<string, {_type(kind.values)}>"
    if kind.record is not None:
        return kind.record.__name__
    assert kind.plain is not None
    return _PLAIN[kind.plain]
