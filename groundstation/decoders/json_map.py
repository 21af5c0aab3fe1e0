"""JSON messages (RFC 8259), read by a map from our names to their fields."""

import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final, Literal

from groundstation.decoders.byte_layout import PackedSettings, Unpacker
from groundstation.decoders.named_values import named_values
from groundstation.decoders.paths import json_path
from groundstation.decoders.refusals import too_long, unreadable
from groundstation.decoders.text import NumberForm, clean_name, number
from groundstation.decoders.time_formats import TimeFormat
from groundstation.errors import ConfigurationError
from groundstation.records import HeightReport, Read, Reason, Report, Unreadable

MAX_JSON_BYTES: Final = 1 << 20
"""Longest message that is read; own choice, room for a feed of some thousand positions."""

_BETWEEN: Final = re.compile(r"\s*[,;]\s*|\s+")
MOST_GATEWAYS: Final = 20  # own choice: a bound for what a message may hold
_UNFIT: Final = re.compile(r"[^a-z0-9]+")
_MISSING: Final = object()


@dataclass(frozen=True, slots=True, kw_only=True)
class GatewaySettings:
    """Where a message tells which gateways heard it: ``path`` of the list, and in each of its
    objects the paths of the gateway's ``name``, of the ``signal`` in dBm and of the ratio to
    ``noise`` in dB."""

    path: str
    name: str
    signal: str = ""
    noise: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class JsonSettings:
    """Where in a message each value stands.

    ``fields`` maps a name of ``named_values`` to a path of keys joined by dots; a number picks
    from a list, or from a text such as "47.1,20.3", and a path may go on into a text that is JSON
    itself. ``records`` is the path to the object, or list of objects, to read; empty for
    the message itself. A key that holds a dot stands in double quotes: ``gps."pos.lat"``. The
    other settings are those of ``ValueSettings``. ``packed`` says where further values are packed
    into bytes, as gateways of radio modules pass them on; those win over fields of the same name.
    With ``gateways`` the signal and the noise at the best of them, and at each, are kept with the
    values, and their names, best first, as the path.
    """

    kind: Literal["json"] = "json"
    fields: dict[str, str] = field(
        default_factory=lambda: {name: name for name in ("time", "lat", "lon", "alt_m", "tracker")}
    )
    records: str = ""
    time_format: str = TimeFormat.ISO
    utc_offset_s: float = 0.0
    units: dict[str, str] = field(default_factory=dict)
    numbers: NumberForm = NumberForm.POINT
    tracker: str = ""
    packed: PackedSettings | None = None
    gateways: GatewaySettings | None = None


class JsonDecoder:
    """Reads one message. Raises ``ConfigurationError`` for settings that cannot work."""

    def __init__(self, settings: JsonSettings) -> None:
        empty = sorted(name for name, path in settings.fields.items() if not path)
        if empty:
            raise ConfigurationError(f"fields: {', '.join(empty)} has an empty path")
        self._unpacker = None if settings.packed is None else Unpacker(settings.packed)
        names = {**settings.fields, **dict.fromkeys(self._unpacker.names if self._unpacker else ())}
        self._values = named_values(names, settings, "fields")
        self._paths = {name: json_path(path) for name, path in settings.fields.items()}
        self._gateways = None if settings.gateways is None else _Gateways(settings.gateways)
        self._records = json_path(settings.records) if settings.records else ()

    def decode(self, data: bytes, received_utc: float) -> tuple[Read, ...]:
        refused = too_long(data, MAX_JSON_BYTES)
        if refused is not None:
            return (refused,)
        message = _parsed(data)
        if isinstance(message, Unreadable):
            return (message,)
        found = _at(message, self._records)
        if found is _MISSING:
            path = ".".join(self._records)
            return (unreadable(f"The message has nothing at {path!r}."),)
        records = found if isinstance(found, list) and not self._is_row(found) else [found]
        if not records:
            return (Unreadable(reason=Reason.NO_POSITION, detail="The list is empty."),)
        return tuple(self._report(record, received_utc) for record in records)

    def _is_row(self, found: list[object]) -> bool:
        """Whether a list is one record whose values are told apart by their places."""
        by_place = all(path[0].isdigit() for path in self._paths.values())
        return by_place and not any(isinstance(value, dict | list) for value in found)

    def _report(self, record: object, received_utc: float) -> Read:
        if not isinstance(record, dict | list):
            return unreadable("Where an object with named fields was expected is something else.")
        steps: Mapping[str, float] = {}
        texts = {name: _text(_at(record, path)) for name, path in self._paths.items()}
        if self._unpacker is not None:
            unpacked = self._unpacker.read(_text(_at(record, self._unpacker.path)))
            if isinstance(unpacked, Unreadable):
                return unpacked
            texts |= unpacked.texts
            if not {"lat", "lon"} - unpacked.steps.keys():
                steps = unpacked.steps
        report = self._values.report(texts, received_utc, steps)
        if self._gateways is None or isinstance(report, Unreadable):
            return report
        return self._gateways.added(report, record)


class _Gateways:
    def __init__(self, settings: GatewaySettings) -> None:
        self._path, self._name = json_path(settings.path), json_path(settings.name)
        self._signal = json_path(settings.signal) if settings.signal else None
        self._noise = json_path(settings.noise) if settings.noise else None

    def added(self, report: Report | HeightReport, record: object) -> Report | HeightReport:
        """The report with what its gateways tell; as it is where there is none."""
        listed = _at(record, self._path)
        heard = []
        for gateway in listed[:MOST_GATEWAYS] if isinstance(listed, list) else []:
            name = clean_name(_text(_at(gateway, self._name)))
            if name:
                heard.append(
                    (name, self._figure(gateway, self._signal), self._figure(gateway, self._noise))
                )
        if not heard:
            return report
        # By the ratio to the noise, which tells more than the signal; without one, by the signal.
        heard.sort(key=lambda gateway: (-_low(gateway[2]), -_low(gateway[1])))
        values = dict(report.telemetry)
        for name, signal, noise in [("", *heard[0][1:]), *heard]:
            ending = _UNFIT.sub("_", f"_{name.lower()}") if name else ""
            if signal is not None:
                values[f"signal{ending}_dbm"] = signal
            if noise is not None:
                values[f"snr{ending}_db"] = noise
        return replace(
            report, telemetry=tuple(values.items()), path=tuple(name for name, _, _ in heard)
        )

    @staticmethod
    def _figure(gateway: object, path: tuple[str, ...] | None) -> float | None:
        return None if path is None else number(_text(_at(gateway, path)))


def _low(value: float | None) -> float:
    return -math.inf if value is None else value


def _parsed(data: bytes) -> object:
    """The message, or an ``Unreadable`` that says why there is none."""
    try:
        return json.loads(
            data.decode("utf-8-sig"),
            object_pairs_hook=_without_duplicates,
            # Numbers stay text: no digit is lost, and none is too large to be looked at. So do
            # NaN and Infinity, which RFC 8259 forbids and broken sensors send: as a position they
            # are refused, elsewhere the one value is left out.
            parse_int=str,
            parse_float=str,
            parse_constant=str,
        )
    except UnicodeDecodeError:
        return unreadable("The message is not UTF-8 text.")
    except json.JSONDecodeError as error:
        return unreadable(f"The message is not JSON: {error.msg} at character {error.pos}.")
    except _DuplicateError:
        return unreadable("The message gives the same field more than once.")
    except RecursionError:
        return unreadable("The message is nested too deeply.")


class _DuplicateError(ValueError):
    """A field given twice: RFC 8259 leaves open what that means."""


def _without_duplicates(pairs: list[tuple[str, object]]) -> dict[str, object]:
    fields = dict(pairs)
    if len(fields) != len(pairs):
        raise _DuplicateError
    return fields


def _at(value: object, path: tuple[str, ...]) -> object:
    for key in path:
        number = int(key) if key.isascii() and key.isdigit() and len(key) < 10 else None
        if isinstance(value, str) and value.lstrip()[:1] in ("{", "["):
            # JSON inside a text of JSON.
            value = _parsed(value.encode("utf-8", "replace"))
        elif isinstance(value, str) and number is not None:
            value = [part for part in _BETWEEN.split(value.strip()) if part]
        if isinstance(value, dict):
            value = value.get(key, _MISSING)
        elif isinstance(value, list) and number is not None:
            value = value[number] if number < len(value) else _MISSING
        else:
            return _MISSING
    return value


def _text(value: object) -> str:
    """The value as text; empty for what is missing, null, or not a single value."""
    if isinstance(value, bool):
        return "true" if value else "false"
    return value if isinstance(value, str) else ""
