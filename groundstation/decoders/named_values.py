"""Values with names, from columns or from fields, made into a report."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Final, Protocol

from groundstation.decoders.angles import ANGLE_UNITS, DEGREES, SIDES, Angle, read_angle, unit_deg
from groundstation.decoders.quantities import (
    METRES_PER_DEGREE,
    Conversion,
    conversion,
    from_written,
    split_unit,
)
from groundstation.decoders.refusals import beyond, unreadable
from groundstation.decoders.text import NumberForm, clean, clean_name, number, plain_number
from groundstation.decoders.time_formats import LARGEST_OFFSET_S, check_time_format, read_time
from groundstation.decoders.time_parts import PARTS, time_of_parts
from groundstation.errors import ConfigurationError
from groundstation.records import HeightReport, Read, Reason, Report, Unreadable

EARLIEST_UTC: Final = 946_684_800.0
"""2000-01-01: a sender that gives an earlier time has none, such as 0 for 1970. Own choice."""

LEAST_STEP_DEG: Final = 1e-7
"""A centimetre: more digits than that tell nothing of a place. Own choice."""

LOWEST_M, HIGHEST_M = -1_000.0, 100_000.0
"""Nothing that is carried by a balloon is outside. Own choice."""

HIGHEST_PA, LOWEST_PA = 110_000.0, 20.0
"""Pressures at the shore of the Dead Sea on a day of high pressure, and above 55 km. Own choice."""

_PLACE: Final = ("lat", "lon")
_PRESSURES: Final = {"pressure_hpa": 100.0, "pressure_pa": 1.0}
_HEIGHTS: Final = ("alt_m", *_PRESSURES)
_SIDES: Final = {"lat": "lat_side", "lon": "lon_side"}
_TEXTS: Final = (
    "date", "time", "tracker", "payload", "valid", "comment", *_SIDES.values(), *PARTS,
)  # fmt: skip
_VALID: Final = {
    **dict.fromkeys(("1", "true", "a", "yes", "valid", "ok", "fix", "3d", "2d"), True),
    **dict.fromkeys(("0", "false", "v", "no", "invalid", "none", "nofix", "no fix"), False),
}

OwnTime = tuple[float | None, str, tuple[tuple[str, str], ...]]
"""The time, what stands there where it could not be read, and all that could not."""


class ValueSettings(Protocol):
    """What every decoder of named values lets a person set.

    ``units`` gives the unit of a value where it is not the one in its name; one that is written
    beside the number itself goes before both. ``time_format`` is a name or a pattern of
    ``time_formats``; ``utc_offset_s`` is how far the sender's clock is ahead of UTC where its
    times do not say. ``numbers`` is how numbers are written. ``tracker`` is used where no value
    gives one.
    """

    @property
    def time_format(self) -> str: ...
    @property
    def utc_offset_s(self) -> float: ...
    @property
    def units(self) -> Mapping[str, str]: ...
    @property
    def numbers(self) -> NumberForm: ...
    @property
    def tracker(self) -> str: ...


@dataclass(frozen=True, slots=True)
class NamedValues:
    """Makes a report of named values, each as text. Build it with ``named_values``."""

    conversions: Mapping[str, Conversion]
    angle_units: Mapping[str, str]
    settings: ValueSettings

    def report(
        self,
        values: Mapping[str, str],
        received_utc: float,
        steps: Mapping[str, float] | None = None,
    ) -> Read:
        """The report that these values make; empty texts count as not sent.

        Without a place it is one of a height, where there is one that no receiver without a fix
        makes up: other than 0, or by the pressure of the air.
        A position that cannot be read makes the whole unreadable. Any other value that cannot be
        read is left out, and named. ``steps`` is what each of ``lat`` and ``lon`` can tell apart,
        in the unit it is sent in, where their digits do not show it.
        """
        sent = {name: text.strip() for name, text in values.items() if text.strip()}
        tracker = clean_name(sent.get("tracker") or sent.get("payload") or self.settings.tracker)
        valid = _VALID.get(sent.get("valid", "").lower(), True)
        numbers = self._numbers(sent)
        own_time = self._told(sent, numbers, received_utc)
        height = self._height(sent, numbers, own_time, tracker, valid=valid)
        missing = [name for name in _PLACE if name not in sent]
        if missing:
            if height is not None and tracker:
                return height
            if not {*_PLACE} & {*self.angle_units}:
                return Unreadable(reason=Reason.NO_FIX, detail="No height was sent.")
            return Unreadable(
                reason=Reason.NO_FIX, detail=f"No value was sent for {' and '.join(missing)}."
            )
        if not tracker:
            return unreadable("The message does not say which tracker sent it.")
        latitude, longitude = (self._angle(name, sent) for name in _PLACE)
        if latitude is None or longitude is None:
            return unreadable(_no_angle("lat" if latitude is None else "lon", sent))
        nowhere = beyond(latitude.degrees, longitude.degrees)
        if nowhere is not None:
            return nowhere
        if (
            height is not None
            and height.pressure_pa is not None
            and (not valid or (latitude.degrees == 0.0 and longitude.degrees == 0.0))
        ):
            return height  # its receiver has no fix, and its barometer needs none
        time_utc, time_unread, unread = own_time
        satellites = numbers.pop("satellites", None)
        course = numbers.pop("course_deg", None)
        speed = numbers.pop("speed_ms", None)
        return Report(
            tracker=tracker,
            latitude_deg=latitude.degrees,
            longitude_deg=longitude.degrees,
            altitude_m=numbers.pop("alt_m", None),
            time_utc=time_utc,
            time_unread=time_unread,
            uncertainty_m=self._half_width_m(latitude, longitude, steps),
            course_deg=course % 360.0 if course is not None and 0.0 <= course <= 360.0 else None,
            speed_ms=speed if speed is not None and speed >= 0.0 else None,
            satellites=whole_satellites(satellites),
            valid=valid,
            telemetry=tuple(numbers.items()),
            comment=clean(sent.get("comment", "")),
            unread=unread,
        )

    def _height(
        self,
        sent: Mapping[str, str],
        numbers: Mapping[str, float],
        own_time: OwnTime,
        tracker: str,
        *,
        valid: bool,
    ) -> HeightReport | None:
        """The height alone; None where there is none to go by."""
        pressures = [numbers[name] * by for name, by in _PRESSURES.items() if name in numbers]
        pressure = next(
            (candidate for candidate in pressures if LOWEST_PA <= candidate <= HIGHEST_PA), None
        )
        altitude = numbers.get("alt_m")
        if not valid or altitude == 0.0:
            altitude = None  # what a receiver without a fix sends
        if altitude is None and pressure is None:
            return None
        time_utc, time_unread, unread = own_time
        return HeightReport(
            tracker=tracker,
            altitude_m=altitude,
            pressure_pa=pressure,
            time_utc=time_utc,
            time_unread=time_unread,
            telemetry=tuple((name, value) for name, value in numbers.items() if name != "alt_m"),
            comment=clean(sent.get("comment", "")),
            unread=unread,
        )

    def _told(
        self, sent: Mapping[str, str], numbers: Mapping[str, float], received_utc: float
    ) -> OwnTime:
        time_utc, told_time = self._time(sent, received_utc)
        unread = [(name, sent[name]) for name in self.conversions if name in sent]
        unread = [(name, text) for name, text in unread if name not in numbers]
        time_unread = clean(told_time[:40]) if time_utc is None else ""
        if time_unread:
            unread.insert(0, ("time", told_time))
        return time_utc, time_unread, tuple((name, clean(text[:40])) for name, text in unread)

    def _angle(self, name: str, sent: Mapping[str, str]) -> Angle | None:
        side = sent.get(_SIDES[name], "")
        return read_angle(sent[name], name, self.angle_units[name], self.settings.numbers, side)

    def _numbers(self, sent: Mapping[str, str]) -> dict[str, float]:
        numbers = {}
        for name, convert in self.conversions.items():
            text = sent.get(name, "")
            if not text:
                continue
            figure, unit = split_unit(text)
            value = number(plain_number(figure, self.settings.numbers))
            by_unit = from_written(name, unit) if unit else convert
            if value is not None and by_unit is not None:
                numbers[name] = by_unit(value)
        if not LOWEST_M <= numbers.get("alt_m", 0.0) <= HIGHEST_M:
            # Such as -9999: what senders write for none. All else may still be right.
            del numbers["alt_m"]
        return numbers

    def _time(self, sent: Mapping[str, str], received_utc: float) -> tuple[float | None, str]:
        """The time, or None; and what stands there for it, or "" where nothing does."""
        settings = self.settings
        parts = {name: sent[name] for name in PARTS if name in sent}
        if "hour" in parts:
            time_text = " ".join(parts[name] for name in PARTS if name in parts)
            moment = time_of_parts(parts, received_utc, settings.utc_offset_s)
        else:
            time_text = " ".join(sent[name] for name in ("date", "time") if name in sent)
            moment = read_time(time_text, settings.time_format, received_utc, settings.utc_offset_s)
        if moment is not None and moment < EARLIEST_UTC:
            moment = None
        return moment, time_text

    def _half_width_m(
        self, latitude: Angle, longitude: Angle, steps: Mapping[str, float] | None
    ) -> float:
        step_deg = min(latitude.step_deg, longitude.step_deg)
        if steps:
            step_deg = max(steps[name] * unit_deg(self.angle_units[name]) for name in _PLACE)
        return 0.5 * max(step_deg, LEAST_STEP_DEG) * METRES_PER_DEGREE


def named_values(names: Collection[str], settings: ValueSettings, where: str) -> NamedValues:
    """Check the names and settings that a person gave, and make what reads them.

    ``lat`` and ``lon`` are needed, or a height alone (``alt_m``, ``pressure_hpa`` or
    ``pressure_pa``), and a tracker by name or as a constant. ``lat_side`` and
    ``lon_side`` hold N, S, E or W where those come apart; ``date`` and ``time`` are read together,
    with a space between them, and ``year``, ``month``, ``day``, ``hour``, ``minute`` and
    ``second`` are numbers. ``alt_m``, ``tracker``, ``payload``, ``satellites``, ``course_deg``,
    ``speed_ms``, ``valid`` and ``comment`` mean what they say; any other name is telemetry.
    ``where`` names the setting in errors. Raises ``ConfigurationError``.
    """
    missing = [name for name in _PLACE if name not in names]
    height_alone = {*_HEIGHTS} & {*names} and not any(
        name.lower().startswith(("lat", "lon", "lng")) for name in names
    )
    if missing and not height_alone:
        raise ConfigurationError(f"{where} does not name {' and '.join(missing)}")
    if not settings.tracker and not {"tracker", "payload"} & set(names):
        raise ConfigurationError(f"{where} names no tracker; name one there or set tracker")
    if "date" in names and "time" not in names:
        raise ConfigurationError(f"{where} names a date but no time; name both, or neither")
    if set(PARTS) & set(names) and ("hour" not in names or "time" in names):
        raise ConfigurationError(f"{where} names {', '.join(PARTS)} in part; hour is needed")
    check_time_format(settings.time_format)
    if not abs(settings.utc_offset_s) <= LARGEST_OFFSET_S:
        raise ConfigurationError("utc_offset_s is more than 14 hours, as no clock is")
    units = settings.units
    for name, unit in units.items():
        if name not in names:
            raise ConfigurationError(f"units has {name!r}, which {where} does not name")
        if name in _TEXTS and unit:
            raise ConfigurationError(f"units: {name!r} has no unit")
        if name in _PLACE and unit and unit not in ANGLE_UNITS:
            known = ", ".join(repr(known) for known in ANGLE_UNITS)
            raise ConfigurationError(f"units: {name} is in one of {known}, not {unit!r}")
    return NamedValues(
        conversions={
            name: conversion(name, units.get(name, ""))
            for name in names
            if name not in (*_PLACE, *_TEXTS)
        },
        angle_units={name: units.get(name, DEGREES) or DEGREES for name in _PLACE if name in names},
        settings=settings,
    )


def whole_satellites(value: float | None) -> int | None:
    """A count of satellites, or None for what cannot be one."""
    if value is None or not 0.0 <= value < 256.0 or value != int(value):
        return None
    return int(value)


def _no_angle(name: str, sent: Mapping[str, str]) -> str:
    side = sent.get(_SIDES[name], "")
    with_side = f" with the side {clean(side[:10])!r}" if side else ""
    letters = " or ".join(SIDES[name])
    return (
        f"The value for {name} is not an angle: {clean(sent[name][:40])!r}{with_side}"
        f" (degrees, a minus sign or {letters}; units and numbers tell of other forms)."
    )
