"""Parts of what alerts say: heights, rates, directions and spans, or nothing where not known."""

import math
from typing import Final

from groundstation.alerts.quantities import (
    altitude_text,
    compass_text,
    rate_text,
    rough_position_text,
    span_text,
)
from groundstation.flight.alert_records import SignalLoss
from groundstation.language.catalogue import _
from groundstation.records import Place
from groundstation.units import Units

WIDE_M: Final = 1_000.0  # own choice: a height known better than that is told as one


def between_part(ago_s: tuple[float, float] | None) -> str:
    if ago_s is None or not all(map(math.isfinite, ago_s)):
        return ""
    if ago_s[1] < 60.0:
        return _("Within the last {longest} (90 %).", longest=span_text(ago_s[0]))
    return _(
        "Between {longest} and {shortest} ago (90 %).",
        longest=span_text(ago_s[0]),
        shortest=span_text(ago_s[1]),
    )


def lost_part(loss: SignalLoss | None, units: Units) -> str:
    if loss is None or not (math.isfinite(loss.agl_m) and math.isfinite(loss.in_s)):
        return ""
    return _(
        "Base will lose it below about {height} above ground, in {span}.",
        height=altitude_text(loss.agl_m, units),
        span=span_text(loss.in_s),
    )


def by_now_part(place: Place | None, span_m: tuple[float, float] | None, units: Units) -> str:
    """Where it should be by now, and how high: with a span where it is not known well."""
    if place is None or not math.isfinite(place.latitude_deg + place.longitude_deg):
        return ""
    height = height_part(place.altitude_m, units)
    where = rough_position_text(place.latitude_deg, place.longitude_deg)
    near = _("By now it should be near {place}.", place=where)
    if not height:
        return near
    if span_m is not None and all(map(math.isfinite, span_m)) and span_m[1] - span_m[0] > WIDE_M:
        low, high = (altitude_text(height_m, units) for height_m in span_m)
        sentence = _(
            "{likely}, between {low} and {high} high (90 %)",
            likely=near.rstrip("."),
            low=low,
            high=high,
        )
        return f"{sentence}."
    return _("By now it should be near {place}, at about {height}.", place=where, height=height)


def joined(*parts: str) -> str:
    return " ".join(part.strip() for part in parts if part)


def height_part(altitude_m: float | None, units: Units) -> str:
    known = altitude_m is not None and math.isfinite(altitude_m)
    return altitude_text(altitude_m, units) if altitude_m is not None and known else ""


def at_part(plain: str, with_height: str, altitude_m: float | None, units: Units) -> str:
    """``plain``, or where the height is known the translation of ``with_height``."""
    height = height_part(altitude_m, units)
    return _(with_height, height=height) if height else plain


def rate_part(what: str, rate_ms: float, units: Units) -> str:
    return f"{what}, {rate_text(rate_ms, units)}" if math.isfinite(rate_ms) else what


def planned_part(rate_ms: float | None, units: Units) -> str:
    if rate_ms is None or not math.isfinite(rate_ms):
        return ""
    return _("Planned was {planned}.", planned=rate_text(rate_ms, units))


def towards_part(bearing_deg: float) -> str:
    return compass_text(bearing_deg) if math.isfinite(bearing_deg) else ""
