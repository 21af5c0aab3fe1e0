"""The flights as they stood, kept beside the database, so that a restart need not fold all anew.

A snapshot is worth something only for the program that made it, with the same settings, and only
where the database still holds what it rests on; otherwise it is as if there were none. Values are
written with the names of their classes, which must be among those of ``MODULES``: reading one makes
records and nothing else.
"""

import hashlib
import json
import logging
import os
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields, is_dataclass
from enum import Enum
from functools import cache
from importlib import import_module
from importlib.resources import files
from pathlib import Path
from pkgutil import iter_modules
from typing import Any, Final

from groundstation import flight, records
from groundstation.flight.state import FlightState

log = logging.getLogger(__name__)

MODULES: Final = (
    records,
    *(
        import_module(f"{flight.__name__}.{module.name}")
        for module in iter_modules(flight.__path__)
    ),
)
"""What a state is made of; none of them does anything when it is imported."""

ENDING: Final = ".state"


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """The flights after the event ``seq`` and the tick ``now_utc``.

    ``rests_on`` is a digest of the events up to there (``Reader.digest``), ``settings`` one of what
    the person set (``digest``).
    """

    seq: int
    now_utc: float
    rests_on: str
    settings: str
    states: tuple[FlightState, ...]
    vehicles: tuple[tuple[str, records.Fix], ...]


@cache
def program() -> str:
    """A digest of the code that makes states: another version of it may make others."""
    made = hashlib.sha256()
    package = files("groundstation")
    for folder in ("flight", "physics"):
        for file in sorted(package.joinpath(folder).iterdir(), key=lambda entry: entry.name):
            if file.name.endswith(".py"):
                made.update(file.read_bytes())
    made.update(package.joinpath("records.py").read_bytes())
    return made.hexdigest()


def digest(value: object) -> str:
    """A digest of settings, which say all of themselves in their ``repr``."""
    return hashlib.sha256(repr(value).encode("utf-8", "replace")).hexdigest()


def save(path: Path, snapshot: Snapshot) -> None:
    """Write it to ``path``, whole or not at all. Raises ``OSError``."""
    text = json.dumps({"program": program(), "snapshot": _told(snapshot)}, separators=(",", ":"))
    unfinished = path.with_suffix(".unfinished")
    with unfinished.open("w", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    unfinished.replace(path)


def load(path: Path) -> Snapshot | None:
    """What ``path`` holds; None where there is nothing, or nothing that this program made."""
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
        if content["program"] != program():
            log.info("%s was written by another version: all is folded anew", path)
            return None
        found = _made(content["snapshot"])
        if isinstance(found, Snapshot):
            return found
    except FileNotFoundError:
        pass
    except (OSError, ValueError, KeyError, TypeError, RecursionError) as error:
        log.warning("%s can't be read and is not gone on from: %r", path, error)
    return None


def _classes() -> Mapping[str, type]:
    found = {
        name: member
        for module in MODULES
        for name, member in vars(module).items()
        if isinstance(member, type) and member.__module__ == module.__name__
    }
    return found | {"Snapshot": Snapshot}


_CLASSES: Final = _classes()


def _told(value: Any) -> Any:
    """``value`` as JSON: records as lists that begin with the name of their class."""
    match value:
        case Enum():
            return [type(value).__name__, value.value]
        case None | bool() | int() | float() | str():
            return value
        case tuple() if hasattr(value, "_fields"):
            return [type(value).__name__, *map(_told, value)]
        case tuple():
            return ["()", *map(_told, value)]
        case frozenset():
            return ["{}", *sorted(map(_told, value), key=str)]
        case _ if is_dataclass(value):
            name = type(value).__name__
            if _CLASSES.get(name) is not type(value):
                raise TypeError(f"{name} is not among the classes of a snapshot")
            return [name, *(_told(getattr(value, field.name)) for field in fields(value))]
    raise TypeError(f"{type(value).__name__} can't be kept in a snapshot")


def _made(packed: Any) -> Any:
    if not isinstance(packed, list):
        return packed
    name, *values = packed
    parts = list(map(_made, values))
    plain: dict[str, Callable[[Iterable[Any]], Any]] = {"()": tuple, "{}": frozenset}
    if name in plain:
        return plain[name](parts)
    kind = _CLASSES[name]
    if is_dataclass(kind):
        names = [field.name for field in fields(kind)]
        return kind(**dict(zip(names, parts, strict=True)))
    return kind(*parts)
