"""Told records as JSON. The same records give the same bytes; NaN becomes null."""

from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

from groundstation.jsonout import JsonObject, iso_utc, number, region_json
from groundstation.schema.fields import Moment, age_name, links
from groundstation.schema.shape import Kind, Told, has_links, shape

Form = Callable[[Any, float | None], Any]


def record_json(record: Any, now_utc: float | None = None) -> JsonObject:
    """``record`` as a JSON object. With ``now_utc`` ages stand beside times, and links beside
    places; without, only what can't be told from the rest."""
    return dict(_pairs(record, now_utc))


def _pairs(record: Any, now_utc: float | None) -> Iterator[tuple[str, Any]]:
    kind: type = type(record)
    for name, field, form, moment, if_any in _forms(kind):
        value = getattr(record, field)
        if if_any and not value:
            continue
        yield name, None if value is None else form(value, now_utc)
        if moment is not None and now_utc is not None and not moment.alone:
            yield age_name(name, moment), _age(value, moment, now_utc)
    if now_utc is not None and has_links(kind):
        yield from links(record.latitude_deg, record.longitude_deg).items()


def _age(value: float | None, moment: Moment, now_utc: float) -> float | None:
    if value is None:
        return None
    return number(value - now_utc if moment.ahead else now_utc - value, 1)


@cache
def _forms(record: type) -> tuple[tuple[str, str, Form, Moment | None, bool], ...]:
    def form(told_field: Told) -> tuple[str, str, Form, Moment | None, bool]:
        return (
            told_field.name,
            told_field.field,
            _form(told_field.kind),
            told_field.kind.moment,
            told_field.if_any,
        )

    return tuple(form(entry) for entry in shape(record))


def _form(kind: Kind) -> Form:
    if kind.number is not None:
        decimals = kind.number.decimals
        return lambda value, _: number(value, decimals)
    if kind.moment is not None:
        return lambda value, _: iso_utc(value)
    if kind.region:
        return lambda value, _: region_json(value)
    if kind.words is not None:
        return lambda value, _: value.value
    if kind.items is not None:
        inner = _or_null(kind.items)
        return lambda value, now: [inner(item, now) for item in value]
    if kind.pair:
        forms = [_or_null(part) for part in kind.pair]
        return lambda value, now: [form(item, now) for form, item in zip(forms, value, strict=True)]
    if kind.values is not None:
        inner = _or_null(kind.values)
        return lambda value, now: {str(name): inner(member, now) for name, member in value.items()}
    if kind.record is not None:
        return record_json
    return lambda value, _: value


def _or_null(kind: Kind) -> Form:
    form = _form(kind)
    return lambda value, now: None if value is None else form(value, now)
