"""Where the sun stands along the time, anywhere on Earth: how much daylight is left at a place.

The elevation comes from ``astral`` (its solar position is that of the NOAA solar calculator, after
Meeus, Astronomical Algorithms). It is followed through the hours, since near the poles the sun may
not set, not rise, or set without a dusk.
"""

from datetime import UTC, datetime, timedelta
from typing import Final

from astral import Observer
from astral.sun import elevation

from groundstation.language.catalogue import _
from groundstation.language.numbers import number

SUNSET_DEG: Final = -0.833
"""Elevation of the sun's middle at sunrise and sunset: 34' of refraction and 16' of radius, as the
almanacs take it."""

CIVIL_DEG: Final = -6.0
"""At the end of civil twilight."""

STEP_S: Final = 300.0  # own choice: the sun moves little over a degree
LONGEST_S: Final = 24 * 3600.0  # a day: later is another daylight


def sun_elevation_deg(latitude_deg: float, longitude_deg: float, time_utc: float) -> float:
    """Of the sun's middle above the horizon, without refraction."""
    # Astral's own formula divides by the cosine of the latitude.
    latitude = min(max(latitude_deg, -89.9), 89.9)
    at = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=time_utc)
    return float(elevation(Observer(latitude, longitude_deg), at, with_refraction=False))


def daylight_left_s(latitude_deg: float, longitude_deg: float, time_utc: float) -> float:
    """From then to the next sunset, 24 hours at most; 0 while the sun is down."""

    def up(after_s: float) -> bool:
        return sun_elevation_deg(latitude_deg, longitude_deg, time_utc + after_s) > SUNSET_DEG

    if not up(0.0):
        return 0.0
    low, high = 0.0, STEP_S
    while up(high):
        low, high = high, high + STEP_S
        if high > LONGEST_S:
            return LONGEST_S
    while high - low > 1.0:
        middle = (low + high) / 2.0
        low, high = (middle, high) if up(middle) else (low, middle)
    return low


def daylight_text(latitude_deg: float, longitude_deg: float, time_utc: float) -> str:
    """In words, with the sun's elevation where it is down."""
    left = daylight_left_s(latitude_deg, longitude_deg, time_utc)
    if left >= LONGEST_S:
        return _("24 h or more: the sun does not set")
    if left > 0.0:
        return hours_text(left)
    below = -sun_elevation_deg(latitude_deg, longitude_deg, time_utc)
    if below > -CIVIL_DEG:
        return _("none: dark, the sun is {below}° below the horizon", below=round(below))
    return _("none: twilight, the sun is {below}° below the horizon", below=round(below))


def hours_text(span_s: float) -> str:
    """Such as "2.5 h"."""
    return _("{hours} h", hours=number(span_s / 3600.0, 1))
