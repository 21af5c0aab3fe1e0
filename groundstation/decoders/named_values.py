"""Values with names, from columns or from fields, made into a report."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Final

from groundstation.decoders.quantities import METRES_PER_DEGREE, Conversion, conversion
from groundstation.decoders.refusals import beyond, unreadable
from groundstation.decoders.text import clean, clean_name, decimals, number
from groundstation.decoders.timestamps import TimeFormat, read_time
from groundstation.errors import ConfigurationError
from groundstation.records import Reason, Report, Unreadable

DEGREES_MINUTES: Final = "ddmm"
TEN_MILLIONTHS: Final = "1e-7 deg"
_ANGLE_UNITS: Final = ("", "deg", DEGREES_MINUTES, TEN_MILLIONTHS)
_PLACE: Final = ("lat", "lon")
_TEXTS: Final = ("time", "tracker", "payload", "valid", "comment")
_VALID: Final = {"1": True, "true": True, "a": True, "0": False, "false": False, "v": False}


@dataclass(frozen=True, slots=True)
class NamedValues:
    """Makes a report of named values, each as text. Build it with ``named_values``."""

    conversions: Mapping[str, Conversion]
    angle_units: Mapping[str, str]
    time_format: TimeFormat
    tracker: str

    def report(self, values: Mapping[str, str], received_utc: float) -> Report | Unreadable:
        """The report that these values make; empty texts count as not sent.

        A position that cannot be read makes the whole unreadable. Any other value that cannot be
        read is left out.
        """
        sent = {name: text.strip() for name, text in values.items() if text.strip()}
        missing = [name for name in _PLACE if name not in sent]
        if missing:
            return Unreadable(
                reason=Reason.NO_FIX, detail=f"No value was sent for {' and '.join(missing)}."
            )
        tracker = clean_name(sent.get("tracker") or sent.get("payload") or self.tracker)
        if not tracker:
            return unreadable("The message does not say which tracker sent it.")
        latitude = self._degrees("lat", sent["lat"])
        longitude = self._degrees("lon", sent["lon"])
        if latitude is None or longitude is None:
            wrong = "lat" if latitude is None else "lon"
            return unreadable(
                f"The value for {wrong} is not an angle: {clean(sent[wrong][:40])!r}."
            )
        nowhere = beyond(latitude, longitude)
        if nowhere is not None:
            return nowhere
        numbers = self._numbers(sent)
        time_utc = read_time(sent.get("time", ""), self.time_format, received_utc)
        read = {*numbers, *(() if time_utc is None else ("time",))}
        unread = [name for name in ("time", *self.conversions) if name in sent and name not in read]
        satellites = numbers.pop("satellites", None)
        course = numbers.pop("course_deg", None)
        speed = numbers.pop("speed_ms", None)
        return Report(
            tracker=tracker,
            latitude_deg=latitude,
            longitude_deg=longitude,
            altitude_m=numbers.pop("alt_m", None),
            time_utc=time_utc,
            uncertainty_m=self._half_width_m(sent),
            course_deg=course % 360.0 if course is not None and 0.0 <= course <= 360.0 else None,
            speed_ms=speed if speed is not None and speed >= 0.0 else None,
            satellites=whole_satellites(satellites),
            valid=_VALID.get(sent.get("valid", "").lower(), True),
            telemetry=tuple(numbers.items()),
            comment=clean(sent.get("comment", "")),
            unread=tuple((name, clean(sent[name][:40])) for name in unread),
        )

    def _numbers(self, sent: Mapping[str, str]) -> dict[str, float]:
        numbers = {}
        for name, convert in self.conversions.items():
            value = number(sent.get(name, ""))
            if value is not None:
                numbers[name] = convert(value)
        return numbers

    def _degrees(self, name: str, text: str) -> float | None:
        value = number(text)
        match self.angle_units[name]:
            case _ if value is None:
                return None
            case unit if unit == DEGREES_MINUTES:
                degrees, minutes = divmod(abs(value), 100.0)
                if minutes >= 60.0:
                    return None
                return (-1.0 if text.startswith("-") else 1.0) * (degrees + minutes / 60.0)
            case unit if unit == TEN_MILLIONTHS:
                return value * 1e-7
            case _:
                return value

    def _half_width_m(self, sent: Mapping[str, str]) -> float:
        # The longer of the two: senders that drop trailing zeros seldom do so in both.
        places = max(decimals(sent[name]) for name in _PLACE)
        match self.angle_units["lat"]:
            case unit if unit == DEGREES_MINUTES:
                step_deg = 10.0**-places / 60.0
            case unit if unit == TEN_MILLIONTHS:
                step_deg = 1e-7
            case _:
                step_deg = 10.0**-places
        return 0.5 * step_deg * METRES_PER_DEGREE


def named_values(
    names: Collection[str],
    units: Mapping[str, str],
    time_format: TimeFormat,
    tracker: str,
    where: str,
) -> NamedValues:
    """Check the names and units that a person gave, and make what reads them.

    ``lat`` and ``lon`` are needed, and a tracker by name or as a constant. ``alt_m``, ``time``,
    ``tracker``, ``payload``, ``satellites``, ``course_deg``, ``speed_ms``, ``valid`` and
    ``comment`` mean what they say; any other name is telemetry. ``where`` names the setting in
    errors. Raises ``ConfigurationError``.
    """
    missing = [name for name in _PLACE if name not in names]
    if missing:
        raise ConfigurationError(f"{where} does not name {' and '.join(missing)}")
    if not tracker and not {"tracker", "payload"} & set(names):
        raise ConfigurationError(f"{where} names no tracker; name one there or set tracker")
    for name, unit in units.items():
        if name not in names:
            raise ConfigurationError(f"units has {name!r}, which {where} does not name")
        if name in _TEXTS and unit:
            raise ConfigurationError(f"units: {name!r} has no unit")
        if name in _PLACE and unit not in _ANGLE_UNITS:
            known = ", ".join(repr(known) for known in _ANGLE_UNITS if known)
            raise ConfigurationError(f"units: {name} is in one of {known}, not {unit!r}")
    return NamedValues(
        conversions={
            name: conversion(name, units.get(name, ""))
            for name in names
            if name not in (*_PLACE, *_TEXTS)
        },
        angle_units={name: units.get(name, "deg") or "deg" for name in _PLACE},
        time_format=time_format,
        tracker=tracker,
    )


def whole_satellites(value: float | None) -> int | None:
    """A count of satellites, or None for what cannot be one."""
    if value is None or not 0.0 <= value < 256.0 or value != int(value):
        return None
    return int(value)
