"""Go, wait or stay, by the person's own limits. It weighs what it knows; the person decides, and
weather, airspace, people and land may say otherwise."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import Final

import numpy as np
from astral import LocationInfo
from astral.sun import sun

from groundstation.physics.geodesy import distance_bearing
from groundstation.physics.layers import layer_of
from groundstation.physics.wind import WindsAloft
from groundstation.planning.forecast import Forecast
from groundstation.planning.settings import FlightFile

NEAR: Final = 0.8
"""From this share of a limit on it is told as near."""


class Word(StrEnum):
    GO = "nothing here speaks against going"
    WAIT = "wait"
    STAY = "stay"


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """One of the person's limits. ``over`` is by how much of the limit it is used."""

    what: str
    seen: str
    limit: str
    over: float

    @property
    def word(self) -> Word:
        if self.over <= NEAR:
            return Word.GO
        return Word.WAIT if self.over <= 1.0 else Word.STAY


def weighed(
    flight: FlightFile, forecast: Forecast, aloft: WindsAloft, kept_out: dict[str, float]
) -> tuple[Weighed, ...]:
    """Each limit that the flight file sets."""
    limits = flight.limits
    found = []
    if limits.ground_wind_ms is not None:
        at = layer_of(np.array([flight.site.altitude_m]))
        wind = float(np.hypot(aloft.u_ms[at], aloft.v_ms[at])[0])
        found.append(
            Weighed(
                what="wind at the ground",
                seen=f"{wind:.1f} m/s by the winds aloft; measure it there",
                limit=f"{limits.ground_wind_ms:g} m/s",
                over=wind / limits.ground_wind_ms,
            )
        )
    if limits.drift_m is not None:
        landing = forecast.landing
        away, _ = distance_bearing(
            flight.site.latitude_deg, flight.site.longitude_deg,
            landing.latitude_deg, landing.longitude_deg,
        )  # fmt: skip
        found.append(
            Weighed(
                what="drift",
                seen=f"{away / 1000.0:.0f} km",
                limit=f"{limits.drift_m / 1000.0:.0f} km",
                over=away / limits.drift_m,
            )
        )
    if limits.keep_out is not None and kept_out:
        name, worst = max(kept_out.items(), key=lambda one: one[1])
        found.append(
            Weighed(
                what="landing where it must not",
                seen=f"{100.0 * worst:.0f} % in {name}" if worst else "no member",
                limit=f"{100.0 * limits.keep_out:.0f} %",
                over=worst / limits.keep_out,
            )
        )
    if limits.daylight_s is not None:
        left = daylight_s(forecast)
        found.append(
            Weighed(
                what="daylight after the landing",
                seen="the sun is down" if left <= 0.0 else f"{left / 3600.0:.1f} h",
                limit=f"{limits.daylight_s / 3600.0:.1f} h at least",
                over=limits.daylight_s / left if left > 0.0 else float("inf"),
            )
        )
    return tuple(found)


def word(found: tuple[Weighed, ...]) -> Word:
    """The worst of them."""
    words = [one.word for one in found]
    return next((one for one in (Word.STAY, Word.WAIT) if one in words), Word.GO)


def daylight_s(forecast: Forecast) -> float:
    """From the landing to the next sunset there; negative or 0 while the sun is down."""
    landing = forecast.landing
    at = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=landing.eta_utc)
    place = LocationInfo(latitude=landing.latitude_deg, longitude=landing.longitude_deg)
    days = [(at + timedelta(days=n)).date() for n in (-1, 0, 1)]
    try:
        suns = [sun(place.observer, date=day, tzinfo=UTC) for day in days]
    except ValueError:
        # Near the poles the sun may not rise, or not set.
        return 86_400.0 if 79 < at.timetuple().tm_yday < 266 else 0.0
    sets = min(one["sunset"] for one in suns if one["sunset"] > at)
    rises = min((one["sunrise"] for one in suns if one["sunrise"] > at), default=None)
    if rises is not None and rises < sets:
        return 0.0
    return float((sets - at).total_seconds())
