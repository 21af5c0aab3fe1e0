"""The shape of a told record, read from its types once."""

import typing
from collections.abc import Mapping
from dataclasses import dataclass, fields
from enum import StrEnum
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, Union

from groundstation.schema.fields import (
    AlsoLinks,
    GeoJson,
    IfAny,
    Moment,
    Named,
    Number,
    Untold,
    told_name,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What a value is. Exactly one of what follows ``optional`` is set, or ``plain``."""

    optional: bool = False
    number: Number | None = None
    moment: Moment | None = None
    region: bool = False
    words: type[StrEnum] | None = None
    items: "Kind | None" = None
    pair: tuple["Kind", ...] = ()
    values: "Kind | None" = None
    record: type | None = None
    plain: type | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A field: its name in the record and in JSON, what it is and what it means."""

    field: str
    name: str
    kind: Kind
    what: str
    if_any: bool


@cache
def shape(record: type) -> tuple[Told, ...]:
    """The fields in the order in which they are told. ``TypeError`` for one that has no form."""
    hints = typing.get_type_hints(record, include_extras=True)
    made = []
    for field in fields(record):
        hint, notes = _parted(hints[field.name])
        if any(isinstance(note, Untold) for note in notes):
            continue
        [what] = [note for note in notes if isinstance(note, str)] or [""]
        named = [note.name for note in notes if isinstance(note, Named)]
        kept = tuple(note for note in notes if not isinstance(note, str | IfAny | Named))
        made.append(
            Told(
                field=field.name,
                name=named[0] if named else told_name(field.name),
                kind=_kind(hint, kept),
                what=what,
                if_any=any(isinstance(note, IfAny) for note in notes),
            )
        )
    return tuple(made)


def has_links(record: type) -> bool:
    return isinstance(getattr(record, "TELLS", None), AlsoLinks)


def _parted(hint: Any) -> tuple[Any, tuple[Any, ...]]:
    if typing.get_origin(hint) is Annotated:
        base, *notes = typing.get_args(hint)
        return base, tuple(notes)
    return hint, ()


def _kind(hint: Any, notes: tuple[Any, ...] = ()) -> Kind:
    base, more = _parted(hint)
    notes = (*notes, *more)
    for note in notes:
        match note:
            case Number():
                return Kind(number=note)
            case Moment():
                return Kind(moment=note)
            case GeoJson():
                return Kind(region=True)
    origin, inside = typing.get_origin(base), typing.get_args(base)
    if origin in (Union, UnionType):
        [only] = [part for part in inside if part is not NoneType]
        kind = _kind(only)
        return _optional(kind)
    if origin is tuple:
        if inside[-1] is Ellipsis:
            return Kind(items=_kind(inside[0]))
        return Kind(pair=tuple(_kind(part) for part in inside))
    if origin is not None and issubclass(origin, Mapping):
        return Kind(values=_kind(inside[1]))
    if not isinstance(base, type) or base is float:
        raise TypeError(f"{hint} can't be told: say what its unit is")
    if issubclass(base, StrEnum):
        return Kind(words=base)
    if base in (str, int, bool):
        return Kind(plain=base)
    return Kind(record=base)


def _optional(kind: Kind) -> Kind:
    return Kind(
        optional=True, number=kind.number, moment=kind.moment, region=kind.region,
        words=kind.words, items=kind.items, pair=kind.pair, values=kind.values,
        record=kind.record, plain=kind.plain,
    )  # fmt: skip
