"""How a report tells days, times of day and figures: in the station's time zone and units."""

from dataclasses import dataclass
from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from groundstation.planning.readable_figures import METRIC, Shown


@dataclass(frozen=True, slots=True)
class Telling:
    """``zone`` is a name such as "Europe/Budapest"."""

    zone: str = "UTC"
    shown: Shown = METRIC

    def day(self, time_utc: float) -> str:
        return self._moment(time_utc).strftime("%Y-%m-%d")

    def clock(self, time_utc: float) -> str:
        return self._moment(time_utc).strftime("%H:%M:%S")

    def _moment(self, time_utc: float) -> datetime:
        return datetime.fromtimestamp(round(time_utc), ZoneInfo(self.zone))


PLAIN: Final = Telling()
