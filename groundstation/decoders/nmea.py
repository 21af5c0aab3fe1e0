"""NMEA 0183 sentences: GGA, and RMC or GLL for what has no GGA. Any talker."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

from groundstation.decoders.checksums import nmea_xor
from groundstation.decoders.named_values import whole_satellites
from groundstation.decoders.refusals import beyond, too_long, unreadable
from groundstation.decoders.text import clean, clean_name, decimals, number
from groundstation.decoders.timestamps import clock_text, full_date, nearest_time_of_day
from groundstation.errors import ConfigurationError
from groundstation.records import Reason, Report, Unreadable
from groundstation.units import KNOT_MS, NAUTICAL_MILE_M

READABLE: Final = ("GGA", "RMC", "GLL")
_ADDRESS: Final = re.compile(r"[A-Z]{2}([A-Z]{3})")
_ANGLE: Final = re.compile(r"([0-9]{1,3})([0-9]{2}(?:\.[0-9]{0,12})?)")
_AFTER: Final = re.compile(rb"[\s,;|\[(]")
_SIGNS: Final[Mapping[str, float]] = {"N": 1.0, "S": -1.0, "E": 1.0, "W": -1.0}
_NO_RECEIVER: Final = ("6", "7", "8")
"""Estimated, put in by hand, simulated (NMEA 0183 v3 and later, quality of GGA)."""
_NO_RECEIVER_MODES: Final = ("E", "M", "S")
"""The same as modes of RMC (NMEA 0183 v2.3 and later)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NmeaSettings:
    """Which tracker the sentences are of, and which of them to read.

    RMC and GLL carry no altitude. They are left out at first: a receiver sends them beside GGA, for
    the same moment, and the poorer could stand for all.
    """

    kind: Literal["nmea"] = "nmea"
    tracker: str = ""
    sentences: tuple[str, ...] = ("GGA",)
    checksum_required: bool = True


class NmeaDecoder:
    """Reads one sentence. Raises ``ConfigurationError`` for settings that cannot work."""

    def __init__(self, settings: NmeaSettings) -> None:
        if not clean_name(settings.tracker):
            raise ConfigurationError("NMEA sentences name no tracker; set tracker")
        unknown = [name for name in settings.sentences if name not in READABLE]
        if unknown or not settings.sentences:
            wrong = ", ".join(unknown) or "nothing"
            raise ConfigurationError(f"sentences may hold {' and '.join(READABLE)}, not {wrong}")
        self._settings = settings

    def decode(self, data: bytes, received_utc: float) -> tuple[Report | Unreadable, ...]:
        settings = self._settings
        record = too_long(data) or read_sentence(
            data,
            received_utc,
            tracker=clean_name(settings.tracker),
            sentences=settings.sentences,
            checksum_required=settings.checksum_required,
        )
        return (record,)


def read_sentence(
    data: bytes,
    received_utc: float,
    *,
    tracker: str,
    sentences: tuple[str, ...] = READABLE,
    checksum_required: bool = False,
) -> Report | Unreadable:
    """The report in one sentence. What stands before the last ``$`` is passed over."""
    _, dollar, sentence = data.rpartition(b"$")
    if not dollar:
        return unreadable("The line has no $, which begins a sentence.")
    body, star, sent = sentence.strip().partition(b"*")
    if not star and checksum_required:
        return Unreadable(reason=Reason.CHECKSUM, detail="The sentence has no checksum.")
    # Receivers add levels and times after it, with something between.
    sent = _AFTER.split(sent.strip(), maxsplit=1)[0]
    if star and sent.upper() != f"{nmea_xor(body):02X}".encode():
        return Unreadable(
            reason=Reason.CHECKSUM,
            detail=f"The checksum is wrong: {nmea_xor(body):02X} was expected.",
        )
    fields = body.decode("latin-1").split(",")
    address = _ADDRESS.fullmatch(fields[0])
    if address is None:
        return unreadable("The line does not begin with a talker and a sentence name.")
    if address[1] not in sentences:
        read = " and ".join(sentences)
        return Unreadable(
            reason=Reason.NO_POSITION, detail=f"This is {address[1]}; only {read} is read."
        )
    if address[1] == "GGA":
        return _gga(fields, received_utc, tracker)
    if address[1] == "GLL":
        return _gll(fields, received_utc, tracker)
    return _rmc(fields, received_utc, tracker)


def _gga(fields: list[str], received_utc: float, tracker: str) -> Report | Unreadable:
    if len(fields) < 11:
        return unreadable("The GGA sentence is cut short.")
    _, clock, *place, quality, satellites, _, altitude, unit = fields[:11]
    if quality in ("", "0"):
        return _no_fix()
    angles = _place(place)
    if isinstance(angles, Unreadable):
        return angles
    latitude, longitude, half_width_m = angles
    of_day_s = clock_text(clock)
    time_utc = None if of_day_s is None else nearest_time_of_day(of_day_s, received_utc)
    return Report(
        tracker=tracker,
        latitude_deg=latitude,
        longitude_deg=longitude,
        altitude_m=number(altitude) if unit in ("M", "") else None,
        time_utc=time_utc,
        time_unread=clean(clock[:40]) if time_utc is None else "",
        uncertainty_m=half_width_m,
        satellites=whole_satellites(number(satellites)),
        valid=quality not in _NO_RECEIVER,
    )


def _rmc(fields: list[str], received_utc: float, tracker: str) -> Report | Unreadable:
    if len(fields) < 10:
        return unreadable("The RMC sentence is cut short.")
    _, clock, status, *place, speed, course, date = fields[:10]
    mode = fields[12] if len(fields) > 12 else ""
    if status != "A" or mode == "N":
        return _no_fix()
    angles = _place(place)
    if isinstance(angles, Unreadable):
        return angles
    latitude, longitude, half_width_m = angles
    time_utc = _moment(date, clock, received_utc)
    knots = number(speed)
    degrees = number(course)
    return Report(
        tracker=tracker,
        latitude_deg=latitude,
        longitude_deg=longitude,
        time_utc=time_utc,
        time_unread=clean(f"{date} {clock}"[:40]) if time_utc is None else "",
        uncertainty_m=half_width_m,
        course_deg=degrees % 360.0 if degrees is not None and 0.0 <= degrees <= 360.0 else None,
        speed_ms=knots * KNOT_MS if knots is not None and knots >= 0.0 else None,
        valid=mode not in _NO_RECEIVER_MODES,
    )


def _gll(fields: list[str], received_utc: float, tracker: str) -> Report | Unreadable:
    if len(fields) < 7:
        return unreadable("The GLL sentence is cut short.")
    _, *place, clock, status = fields[:7]
    mode = fields[7] if len(fields) > 7 else ""
    if status != "A" or mode == "N":
        return _no_fix()
    angles = _place(place)
    if isinstance(angles, Unreadable):
        return angles
    latitude, longitude, half_width_m = angles
    time_utc = _moment("", clock, received_utc)
    return Report(
        tracker=tracker,
        latitude_deg=latitude,
        longitude_deg=longitude,
        time_utc=time_utc,
        time_unread=clean(clock[:40]) if time_utc is None else "",
        uncertainty_m=half_width_m,
        valid=mode not in _NO_RECEIVER_MODES,
    )


def _moment(date: str, clock: str, received_utc: float) -> float | None:
    of_day_s = clock_text(clock)
    if of_day_s is None:
        return None
    if not date:
        return nearest_time_of_day(of_day_s, received_utc)
    if not (len(date) == 6 and date.isascii() and date.isdigit()):
        return None
    return full_date(int(date[:2]), int(date[2:4]), int(date[4:]), of_day_s, received_utc)


def _place(fields: list[str]) -> tuple[float, float, float] | Unreadable:
    """Latitude and longitude in degrees, and the half-width of their last digit in metres."""
    lat_text, lat_side, lon_text, lon_side = fields
    if not (lat_text and lon_text):
        return _no_fix()
    latitude = _angle(lat_text, lat_side, "NS")
    longitude = _angle(lon_text, lon_side, "EW")
    if latitude is None or longitude is None:
        return unreadable("The position is not in degrees and minutes with N or S, E or W.")
    step = 10.0 ** -min(decimals(lat_text), decimals(lon_text))
    return beyond(latitude, longitude) or (latitude, longitude, 0.5 * step * NAUTICAL_MILE_M)


def _angle(text: str, side: str, sides: str) -> float | None:
    found = _ANGLE.fullmatch(text)
    if found is None or side not in tuple(sides) or float(found[2]) >= 60.0:
        return None
    return _SIGNS[side] * (int(found[1]) + float(found[2]) / 60.0)


def _no_fix() -> Unreadable:
    return Unreadable(reason=Reason.NO_FIX, detail="The receiver says that it has no fix.")
