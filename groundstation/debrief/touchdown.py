"""Where and when a flight of the logbook came down, as far as that can be told, in words too."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from groundstation.debrief.flights import FlightLog
from groundstation.debrief.words import PLAIN, Telling
from groundstation.flight.touchdown import Touchdown, touchdown
from groundstation.language.catalogue import _
from groundstation.physics.fall import resting_m
from groundstation.physics.geodesy import Plane
from groundstation.records import Fix

GROUND_SD_M: Final = 60.0
"""How far the landing ground's height is off that of the launch, or of the last estimate: as the
running station takes it."""

LAY_SD_M: Final = 15.0  # own choice: heights of a receiver that lies, often under leaves

LOW_M: Final = 500.0
"""Heard falling so near to the ground, the place is known: own choice. At 8 m/s it drifts for a
minute more, half a kilometre in a wind of 8 m/s."""

DRIFT_SD: Final = 0.5
"""How far the wind below the last fix may differ from that around it, as a share."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CameDown:
    """``place`` (degrees) is within ``radius_m`` of where it came down, nine times of ten; None
    where it was last heard too high for that."""

    when: Touchdown
    place: tuple[float, float] | None
    radius_m: float

    def words(self, telling: Telling = PLAIN) -> str:
        """Such as "about 12:31 (12:29 to 12:34)"."""
        clock = telling.clock
        early, late = self.when.span_utc
        about = clock(self.when.time_utc)[:5]
        if late - early < 90.0:
            within = f"{max(late - early, 10.0) / 2.0:.0f}"
            return _("about {time}, within {seconds} s", time=about, seconds=within)
        return _(
            "about {time} ({early} to {late})",
            time=about, early=clock(early)[:5], late=clock(late)[:5],
        )  # fmt: skip

    def basis(self, telling: Telling = PLAIN) -> str:
        """How that is known."""
        shown, clock = telling.shown, telling.clock
        height = shown.text("altitude", self.when.above_m)
        rate = shown.text("rate", self.when.rate_ms)
        if self.when.heard_utc is None:
            return _(
                "estimated: last heard falling {height} above the ground, at {rate}, and not from"
                " the ground",
                height=height, rate=rate,
            )  # fmt: skip
        return _(
            "estimated: last heard falling {height} above the ground, at {rate}; first heard from"
            " the ground at {time}",
            height=height, rate=rate, time=clock(self.when.heard_utc),
        )  # fmt: skip


def came_down(flight: FlightLog) -> CameDown | None:
    """None of what is still up, or of which too little of the fall was heard."""
    known = [fix for fix in flight.fixes if fix.altitude_m is not None]
    if flight.burst_utc is None or len(known) < 5:
        return None
    time = np.array([fix.time_utc for fix in known])
    height = np.array([fix.altitude_m for fix in known], dtype=float)
    top = int(height.argmax())
    fell = slice(top, None)
    lay = flight.landed_utc is not None
    ground = resting_m(height[fell]) if lay else _ground_m(flight, float(height[fell].min()))
    when = touchdown(time[fell], height[fell], ground, LAY_SD_M if lay else GROUND_SD_M, lay=lay)
    if when is None:
        return None
    if lay:
        last = flight.fixes[-1]
        return CameDown(when=when, place=(last.latitude_deg, last.longitude_deg), radius_m=30.0)
    place, radius = _drifted(known[-1], known[top:], when)
    return CameDown(when=when, place=place if when.above_m <= LOW_M else None, radius_m=radius)


def _ground_m(flight: FlightLog, lowest_m: float) -> float:
    """Of the landing: as the last estimate took it, else of the launch; never above what was
    heard."""
    if flight.landings:
        return min(flight.landings[-1].ground_m, lowest_m)
    first = next((fix.altitude_m for fix in flight.fixes if fix.altitude_m is not None), lowest_m)
    return min(first, lowest_m)


def _drifted(last: Fix, fall: list[Fix], when: Touchdown) -> tuple[tuple[float, float], float]:
    """The last fix carried on by the drift of the last piece."""
    higher_m = (last.altitude_m or 0.0) + 300.0
    before = next((fix for fix in reversed(fall) if (fix.altitude_m or 0.0) > higher_m), fall[0])
    plane = Plane(last.latitude_deg, last.longitude_deg)
    x, y = (float(offset_m) for offset_m in plane.to_xy(before.latitude_deg, before.longitude_deg))
    share = (when.time_utc - last.time_utc) / max(last.time_utc - before.time_utc, 1.0)
    lat, lon = plane.to_latlon(-x * share, -y * share)
    away = float(np.hypot(x, y)) * share
    return (float(lat), float(lon)), 50.0 + 1.645 * DRIFT_SD * away
