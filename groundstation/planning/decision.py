"""Go, wait or stay, by the person's own limits. It weighs what it knows; the person decides, and
weather, airspace, people and land may say otherwise."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np

from groundstation.language.catalogue import N_, _
from groundstation.language.numbers import number
from groundstation.physics.geodesy import distance_bearing
from groundstation.physics.layers import layer_of
from groundstation.physics.wind import WindsAloft
from groundstation.planning.forecast import Forecast
from groundstation.planning.settings import FlightFile
from groundstation.planning.sun import daylight_left_s, daylight_text

NEAR: Final = 0.8
"""From this share of a limit on it is told as near."""


class Word(StrEnum):
    """In English."""

    GO = N_("nothing here speaks against going")
    WAIT = N_("wait")
    STAY = N_("stay")

    @property
    def short(self) -> str:
        """For a table, in the language that is spoken."""
        return _("go") if self is Word.GO else _(self.value)


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


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptOutShares:
    """How many of the members come down where they must not: in each by its name, and in any."""

    each: Mapping[str, float]
    any: float

    @property
    def chances(self) -> str:
        if not self.any:
            return _("no member")
        area, worst = max(self.each.items(), key=lambda share: share[1])
        name = _(area)
        share = percent(self.any)
        if worst == self.any:
            return _("{share} in {name}", share=share, name=name)
        return _("{share} in all, {worst} in {name}", share=share, worst=percent(worst), name=name)


def percent(share: float) -> str:
    """Such as 12 %, 0.4 % or 0 %: what is seldom is not told as never."""
    return f"{number(100.0 * share, 0 if share >= 0.0095 or not share else 1)} %"


def weighed(
    flight: FlightFile,
    forecast: Forecast,
    aloft: WindsAloft,
    kept_out: KeptOutShares | None = None,
) -> tuple[Weighed, ...]:
    """Each limit that the flight file sets; that on keep-outs only where there are some."""
    limits, shown = flight.limits, flight.shown
    found = []
    if limits.ground_wind_ms is not None:
        at = layer_of(np.array([flight.site.altitude_m]))
        wind = float(np.hypot(aloft.u_ms[at], aloft.v_ms[at])[0])
        found.append(
            Weighed(
                what=_("wind at the ground"),
                seen=_(
                    "{wind} by the winds aloft; measure it there", wind=shown.text("wind", wind)
                ),
                limit=shown.text("wind", limits.ground_wind_ms),
                over=wind / limits.ground_wind_ms,
            )
        )
    if limits.drift_m is not None:
        landing = forecast.landing
        away, _bearing = distance_bearing(
            flight.site.latitude_deg, flight.site.longitude_deg,
            landing.latitude_deg, landing.longitude_deg,
        )  # fmt: skip
        found.append(
            Weighed(
                what=_("drift"),
                seen=shown.text("distance", away),
                limit=shown.text("distance", limits.drift_m),
                over=away / limits.drift_m,
            )
        )
    if limits.keep_out is not None and kept_out is not None:
        found.append(
            Weighed(
                what=_("landing where it must not"),
                seen=kept_out.chances,
                limit=_("{share} at most", share=percent(limits.keep_out)),
                over=_of(kept_out.any, limits.keep_out),
            )
        )
    if limits.daylight_s is not None:
        landing = forecast.landing
        here = (landing.latitude_deg, landing.longitude_deg)
        left = daylight_left_s(*here, landing.eta_utc)
        found.append(
            Weighed(
                what=_("daylight after the landing"),
                seen=daylight_text(*here, landing.eta_utc),
                limit=_("{hours} h at least", hours=number(limits.daylight_s / 3600.0, 1)),
                over=_of(limits.daylight_s, left),
            )
        )
    return tuple(found)


def word(found: tuple[Weighed, ...]) -> Word:
    """The worst of them."""
    words = [reason.word for reason in found]
    return next((choice for choice in (Word.STAY, Word.WAIT) if choice in words), Word.GO)


def _of(part: float, whole: float) -> float:
    """As a share; endless where something is more than nothing."""
    if part <= 0.0:
        return 0.0
    return part / whole if whole > 0.0 else float("inf")
