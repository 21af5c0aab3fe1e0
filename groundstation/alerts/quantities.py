"""Numbers as a person reads them: metric or imperial, rounded to what matters, local time."""

from datetime import UTC, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from groundstation.language.catalogue import N_, _
from groundstation.language.numbers import number
from groundstation.units import FOOT_M, MILE_M, Units

LATEST_UTC: Final = 2e11
"""Far beyond any real time (year 8307), and still a date that every time zone has."""


BEYOND_ALL: Final = 1e12
"""No distance, height, rate or time that is told is this large; NaN is not below it either."""


POINTS: Final = (
    N_("N"), N_("NNE"), N_("NE"), N_("ENE"), N_("E"), N_("ESE"), N_("SE"), N_("SSE"),
    N_("S"), N_("SSW"), N_("SW"), N_("WSW"), N_("W"), N_("WNW"), N_("NW"), N_("NNW"),
)  # fmt: skip


def distance_text(distance_m: float, units: Units) -> str:
    """A distance along the ground, such as "850 m", "12.3 km" or "7.6 mi"."""
    if not abs(distance_m) < BEYOND_ALL:
        return _("an unknown distance")
    if units is Units.METRIC:
        if abs(distance_m) < 995.0:
            return f"{_rounded(distance_m, 10.0 if abs(distance_m) >= 100.0 else 1.0)} m"
        return f"{_short(distance_m / 1000.0)} km"
    if abs(distance_m) < 0.2 * MILE_M:
        return f"{_rounded(distance_m / FOOT_M, 10.0)} ft"
    return f"{_short(distance_m / MILE_M)} mi"


def altitude_text(altitude_m: float, units: Units) -> str:
    """A height, such as "850 m", "30.1 km" or "98,800 ft"."""
    if not abs(altitude_m) < BEYOND_ALL:
        return _("an unknown height")
    if units is Units.METRIC:
        if abs(altitude_m) < 1_995.0:
            return f"{_rounded(altitude_m, 10.0)} m"
        return f"{number(altitude_m / 1000.0, 1)} km"
    height_ft = altitude_m / FOOT_M
    return f"{_rounded(height_ft, 10.0 if abs(height_ft) < 2_000.0 else 100.0)} ft"


def rate_text(rate_ms: float, units: Units) -> str:
    """A rate of fall, such as "6.2 m/s" or "1,220 ft/min"."""
    if not abs(rate_ms) < BEYOND_ALL:
        return _("an unknown rate")
    if units is Units.METRIC:
        return f"{number(rate_ms, 1)} m/s"
    return f"{_rounded(rate_ms * 60.0 / FOOT_M, 10.0)} ft/min"


def span_text(span_s: float) -> str:
    """How long, such as "14 s", "12 min", "2 h 05 min" or "3 d 4 h"."""
    if not abs(span_s) < BEYOND_ALL:
        return _("an unknown time")
    span_s = max(span_s, 0.0)
    if span_s < 99.5:
        return _("{seconds} s", seconds=number(span_s))
    minutes = round(span_s / 60.0)
    if minutes < 100:
        return _("{minutes} min", minutes=minutes)
    hours, minutes = divmod(minutes, 60)
    if hours < 48:
        return _("{hours} h {minutes} min", hours=hours, minutes=str(minutes).zfill(2))
    days, hours = divmod(hours, 24)
    return _("{days} d {hours} h", days=days, hours=hours)


def time_text(time_utc: float, zone: ZoneInfo, *, zone_name: bool = False) -> str:
    """Local time of day, such as "14:05" or "14:05 CEST"."""
    if not 0.0 <= time_utc <= LATEST_UTC:
        return _("an unknown time")
    local = (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=time_utc)).astimezone(zone)
    return local.strftime("%H:%M %Z" if zone_name else "%H:%M")


def position_text(latitude_deg: float, longitude_deg: float) -> str:
    """Decimal degrees, latitude first; five places are a metre."""
    return f"{latitude_deg:.5f}, {longitude_deg:.5f}"


def rough_position_text(latitude_deg: float, longitude_deg: float) -> str:
    """Two places, about a kilometre, for what is not known better."""
    return f"{latitude_deg:.2f}, {longitude_deg:.2f}"


def compass_text(bearing_deg: float) -> str:
    """One of sixteen directions, such as "ENE"."""
    return _(POINTS[round(bearing_deg % 360.0 / 22.5) % 16])


def _rounded(value: float, step: float) -> str:
    return number(step * round(value / step))


def _short(value: float) -> str:
    return number(value, 1 if abs(value) < 99.95 else 0)


def percent_text(share: float) -> str:
    """A chance in percent, never as sure as 100 %, which no ensemble is."""
    return _("over 99") if share > 0.99 else number(100.0 * share)
