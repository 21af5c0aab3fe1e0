"""From TOML to settings classes, guided by their type hints alone.

A field may be str, int, float, bool, Path, StrEnum, Literal, Secret, another settings class,
tuple[X, ...], dict[str, str], X | None, or a union of settings classes that their ``kind`` tells
apart. Everything that is wrong is found in one go.
"""

import dataclasses
import difflib
import math
import tomllib
import types
import typing
from collections.abc import Iterable, Mapping
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Any, Final, Literal, TypeVar, Union, cast

from groundstation.errors import ConfigurationError
from groundstation.settings.secret import Secret
from groundstation.settings.secret_sources import CREDENTIALS, read_secret
from groundstation.settings.toml_lines import KeyPath, dotted, key_lines, line_of
from groundstation.units import parse_quantity

MISSING: Final = "missing"
"""In the metadata of a field without a default: the words that ask for it."""

RESOURCE: Final = "resource:"
"""Begins a path to a file that comes with the program."""

CREDENTIAL: Final = "credential:"
"""Begins a path to a file beside the configuration that systemd hands to the service."""

RESOURCES: Final = Path(__file__).resolve().parents[1] / "resources"

_DIMENSIONS: Final = {
    "_m": "length",
    "_s": "time",
    "_ms": "speed",
    "_pa": "pressure",
    "_k": "temperature",
    "_kg": "mass",
    "_m3": "volume",
    "_n": "force",
}
_RANGES: Final = {"latitude_deg": 90.0, "longitude_deg": 180.0}
_PLAIN: Final[dict[type, tuple[type, str]]] = {
    str: (str, "a text"),
    int: (int, "a whole number"),
    bool: (bool, "true or false"),
}

T = TypeVar("T")


class _WrongType:
    """Stands for a value that could not be built; its problem is noted."""


_WRONG: Final = _WrongType()


def read_settings(path: Path, cls: type[T], what: str) -> T:
    """A file without secrets, called ``what`` in errors, as a ``cls``. Raises
    ``ConfigurationError`` with all that is wrong, one a line."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigurationError(f"cannot read {what} {path}: {error}") from error
    return SettingsBuilder(text, name=str(path), folder=path.absolute().parent, env={}).build(cls)


class SettingsBuilder:
    """Builds settings of one file, and gathers what is wrong with it.

    ``name`` is how errors call the file, ``folder`` what its relative paths start from.
    """

    def __init__(self, text: str, *, name: str, folder: Path, env: Mapping[str, str]) -> None:
        self._name = name
        self._folder = folder
        self._env = env
        self._lines = key_lines(text)
        self._problems: list[tuple[int, str]] = []
        try:
            self._table = tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            raise ConfigurationError(f"{name} is not valid TOML: {error}") from error

    def build(self, cls: type[T]) -> T:
        """The file as a ``cls``. Raises ``ConfigurationError`` with all problems, one a line."""
        built = self._dataclass(cls, self._table, ())
        self.raise_problems()
        return cast("T", built)

    def problem(self, path: KeyPath, text: str) -> None:
        """Note that what stands at ``path`` is wrong."""
        key = dotted(path)
        named, _, _ = text.partition(" ")
        if key and named.startswith(f"{key}."):
            path = (*path, *named.removeprefix(f"{key}.").split("."))
            key, text = named, text.removeprefix(named).lstrip()
        elif not key and (named,) in self._lines:
            path, key, text = (named,), named, text.removeprefix(named).lstrip()
        line = line_of(path, self._lines)
        where = self._name if line is None else f"{self._name}, line {line}"
        self._problems.append((line or 0, f"{where}: {f'{key}: ' if key else ''}{text}"))

    def raise_problems(self) -> None:
        """Raise ``ConfigurationError`` where any were noted, in the order of the file."""
        if self._problems:
            texts = [text for _, text in sorted(self._problems, key=lambda item: item[0])]
            raise ConfigurationError("\n".join(texts))

    def _wrong(self, path: KeyPath, text: str) -> _WrongType:
        self.problem(path, text)
        return _WRONG

    def _value(self, hint: Any, value: object, path: KeyPath) -> object:
        origin = typing.get_origin(hint)
        if origin in (Union, types.UnionType):
            return self._union(typing.get_args(hint), value, path)
        if origin is tuple:
            return self._tuple(typing.get_args(hint), value, path)
        if origin is dict:
            return self._texts(value, path)
        if origin is Literal:
            return self._choice(typing.get_args(hint), value, path)
        if hint is Secret:
            try:
                return read_secret(value, self._env, self._folder)
            except ConfigurationError as error:
                return self._wrong(path, str(error))
        if hint is Path:
            return self._path(value, path)
        if hint is float:
            return self._float(value, path)
        if hint is int and isinstance(value, str) and _dimension(path) is not None:
            number = self._float(value, path)
            if isinstance(number, float) and not number.is_integer():
                return self._wrong(path, f"expected a whole number, found {number:g}")
            return int(number) if isinstance(number, float) else number
        if hint is str and isinstance(value, datetime):
            # A moment may stand without quotes, as TOML has it.
            return value.isoformat()
        if hint in _PLAIN:
            kind, words = _PLAIN[hint]
            if type(value) is kind:
                return value
            return self._wrong(path, f"expected {words}, found {_shown(value)}")
        if isinstance(hint, type) and issubclass(hint, StrEnum):
            chosen = self._choice([str(member) for member in hint], value, path)
            return chosen if chosen is _WRONG else hint(cast("str", chosen))
        if dataclasses.is_dataclass(hint):
            return self._dataclass(hint, value, path)
        raise TypeError(f"settings can't hold {hint!r} at {dotted(path)}")

    def _dataclass(self, cls: Any, value: object, path: KeyPath) -> object:
        if not isinstance(value, dict):
            return self._wrong(path, f"expected a table of settings, found {_shown(value)}")
        hints = typing.get_type_hints(cls)
        fields = {field.name: field for field in dataclasses.fields(cls) if field.init}
        for key in value:
            if key not in fields:
                advice = _near(key, fields) or f"; known here are {', '.join(fields)}"
                self.problem((*path, key), f"unknown key{advice}")
        built: dict[str, object] = {}
        for name, field in fields.items():
            if name in value:
                built[name] = self._value(hints[name], value[name], (*path, name))
            elif (
                field.default is dataclasses.MISSING
                and field.default_factory is dataclasses.MISSING
            ):
                words = field.metadata.get(MISSING, "is missing; it has no default")
                built[name] = self._wrong((*path, name), words)
        if any(part is _WRONG for part in built.values()):
            return _WRONG
        try:
            return cls(**built)
        except ConfigurationError as error:
            return self._wrong(path, str(error))

    def _union(self, hints: tuple[Any, ...], value: object, path: KeyPath) -> object:
        members = [hint for hint in hints if hint is not types.NoneType]
        if len(members) == 1:
            return self._value(members[0], value, path)
        if not all(dataclasses.is_dataclass(hint) for hint in members):
            raise TypeError(f"settings can't choose among {hints!r} at {dotted(path)}")
        if not isinstance(value, dict):
            return self._wrong(path, f"expected a table of settings, found {_shown(value)}")
        kinds = {kind: cls for cls in members for kind in typing.get_args(_hints(cls).get("kind"))}
        if "kind" not in value:
            return self._wrong((*path, "kind"), f"is missing; one of {_listed(kinds)}")
        kind = self._choice(kinds, value["kind"], (*path, "kind"))
        return _WRONG if kind is _WRONG else self._dataclass(kinds[kind], value, path)

    def _tuple(self, hints: tuple[Any, ...], value: object, path: KeyPath) -> object:
        if not isinstance(value, list):
            return self._wrong(path, f"expected a list, found {_shown(value)}")
        if len(hints) == 2 and hints[1] is Ellipsis:
            hints = (hints[0],) * len(value)
        elif len(hints) != len(value):
            return self._wrong(path, f"expected a list of {len(hints)}, found {len(value)}")
        built = [
            self._value(hint, item, (*path, number))
            for number, (hint, item) in enumerate(zip(hints, value, strict=True), 1)
        ]
        return _WRONG if any(item is _WRONG for item in built) else tuple(built)

    def _texts(self, value: object, path: KeyPath) -> object:
        if not isinstance(value, dict):
            return self._wrong(path, f"expected a table of texts, found {_shown(value)}")
        wrong = [key for key, text in value.items() if not isinstance(text, str)]
        for key in wrong:
            self.problem((*path, key), f"expected a text, found {_shown(value[key])}")
        return _WRONG if wrong else dict(value)

    def _choice(self, known: Iterable[Any], value: object, path: KeyPath) -> Any:
        known = list(known)
        if any(value == choice and type(value) is type(choice) for choice in known):
            return value
        near = _near(value, map(str, known)) if isinstance(value, str) else ""
        return self._wrong(path, f"expected one of {_listed(known)}, found {_shown(value)}{near}")

    def _path(self, value: object, path: KeyPath) -> object:
        if not isinstance(value, str) or not value or "\0" in value:
            return self._wrong(path, f"expected a path, found {_shown(value)}")
        if value.startswith(RESOURCE):
            return RESOURCES / value.removeprefix(RESOURCE)
        if value.startswith(CREDENTIAL):
            name = value.removeprefix(CREDENTIAL)
            if Path(name).name != name:
                return self._wrong(path, f"expected a bare name after {CREDENTIAL!r}")
            return Path(self._env.get(CREDENTIALS) or self._folder) / name
        try:
            return self._folder / Path(value).expanduser()
        except RuntimeError:
            return self._wrong(path, f"expected a path, found {_shown(value)}, a home unknown here")

    def _float(self, value: object, path: KeyPath) -> object:
        name, dimension = _name(path), _dimension(path)
        if isinstance(value, str) and dimension is not None:
            try:
                number = parse_quantity(value, dimension)
            except ConfigurationError as error:
                return self._wrong(path, str(error))
        elif isinstance(value, str) and value.rstrip().endswith("%"):
            try:
                number = parse_quantity(value, "ratio")
            except ConfigurationError as error:
                return self._wrong(path, str(error))
        elif isinstance(value, int | float) and not isinstance(value, bool):
            number = float(value)
        else:
            units = "" if dimension is None else f" or a {dimension} with its unit"
            return self._wrong(path, f"expected a number{units}, found {_shown(value)}")
        if not math.isfinite(number):
            return self._wrong(path, f"expected a finite number, found {_shown(value)}")
        for ending, limit in _RANGES.items():
            if name.endswith(ending) and abs(number) > limit:
                return self._wrong(
                    path, f"expected degrees from {-limit:g} to {limit:g}, found {number:g}"
                )
        return number


def _name(path: KeyPath) -> str:
    return next((part for part in reversed(path) if isinstance(part, str)), "")


def _dimension(path: KeyPath) -> str | None:
    """What the number at ``path`` measures, by the end of its name."""
    _, underscore, ending = _name(path).rpartition("_")
    return _DIMENSIONS.get(underscore + ending)


def _hints(cls: Any) -> dict[str, Any]:
    return typing.get_type_hints(cls)


def _near(key: str, known: Iterable[str]) -> str:
    close = difflib.get_close_matches(key, list(known), n=1)
    return f"; did you mean {close[0]!r}?" if close else ""


def _listed(known: Iterable[object]) -> str:
    return ", ".join(repr(choice) for choice in known)


def _shown(value: object) -> str:
    match value:
        case bool():
            return str(value).lower()
        case str():
            return f"the text {value!r}"
        case dict():
            return "a table"
        case list():
            return "a list"
        case _:
            return f"{value}"
