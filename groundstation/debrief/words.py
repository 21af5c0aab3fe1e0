"""How a report tells days, times of day and figures: in the station's time zone and units, and in
the language that is spoken."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from groundstation.language.catalogue import _
from groundstation.language.dates import day_text
from groundstation.physics.geodesy import compass, distance_bearing
from groundstation.planning.readable_figures import METRIC, Shown
from groundstation.records import NamedPlace


@dataclass(frozen=True, slots=True)
class Telling:
    """``zone`` is a name such as "Europe/Budapest"; ``find`` finds a town near a place."""

    zone: str = "UTC"
    shown: Shown = METRIC
    find: Callable[[float, float], NamedPlace | None] | None = None

    def day(self, time_utc: float) -> str:
        return day_text(self._moment(time_utc))

    def clock(self, time_utc: float) -> str:
        return self._moment(time_utc).strftime("%H:%M:%S")

    def near(self, latitude_deg: float, longitude_deg: float) -> str:
        """Such as "3.4 km NW of Kengyel"; "" where nothing has a name."""
        town = None if self.find is None else self.find(latitude_deg, longitude_deg)
        if town is None:
            return ""
        away, bearing = distance_bearing(
            town.latitude_deg, town.longitude_deg, latitude_deg, longitude_deg
        )
        return _(
            "{distance} {way} of {name}",
            distance=self.shown.text("away", away),
            way=_(compass(bearing)),
            name=town.name,
        )

    def _moment(self, time_utc: float) -> datetime:
        return datetime.fromtimestamp(round(time_utc), ZoneInfo(self.zone))


PLAIN: Final = Telling()
