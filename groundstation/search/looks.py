"""What a person did in the search, and how likely it would have found the payload.

How likely a look finds what is there is a matter of judgement: the defaults are common practice
without a source, and the person may give other figures.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.detection import detection
from groundstation.physics.geodesy import Plane

Array = NDArray[np.float64]

MOST_CORNERS: Final = 200  # own choice: an area drawn by hand
REACH_RANGE_M: Final = (5.0, 50_000.0)  # own choice: from a hedge to a receiver on a hill


class LookKind(StrEnum):
    """SEARCHED: looked there and saw nothing. SILENT: listened there and heard nothing. HEARD:
    listened there and heard the tracker, even if nothing could be decoded."""

    SEARCHED = "searched"
    SILENT = "silent"
    HEARD = "heard"


REACH_M: Final = {LookKind.SEARCHED: 50.0, LookKind.SILENT: 1_500.0, LookKind.HEARD: 1_500.0}
"""A car's antenna hears a tracker on the ground over 0.5 to 3 km (common practice, no source)."""

CHANCE: Final = {LookKind.SEARCHED: 0.8, LookKind.SILENT: 0.7, LookKind.HEARD: 0.99}
"""A sweep of parallel lines, each as far from the next as one sees, finds 0.79 of what is there
(Koopman 1946: erf of half the root of pi). That the tracker still sends and is not shielded:
judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One look of the search. ``shape`` are (latitude, longitude) in degrees: one place, a way, or
    with ``area`` the corners of an area. ``reach_m`` is how far beyond it one sees, or at which
    distance hearing is down to half. ``chance`` is how likely it is found where one is right at it.
    ``number`` is 0 before it is stored."""

    payload: str
    time_utc: float
    kind: LookKind
    shape: tuple[tuple[float, float], ...]
    area: bool = False
    reach_m: float
    chance: float
    who: str = ""
    note: str = ""
    number: int = 0

    def __post_init__(self) -> None:
        """Raises ``ValueError`` with a sentence."""
        if not 1 <= len(self.shape) <= MOST_CORNERS:
            raise ValueError(f"a place, or a way of at most {MOST_CORNERS} places, must be given")
        if self.area and len(self.shape) < 3:
            raise ValueError("an area has at least three corners")
        for lat, lon in self.shape:
            if not (-90.0 <= lat <= 90.0 and -180.0 <= lon <= 180.0):
                raise ValueError("a place is a latitude and a longitude in degrees")
        low, high = REACH_RANGE_M
        if not low <= self.reach_m <= high:
            raise ValueError(f"the reach must be {low:.0f} to {high:.0f} m")
        if not 0.0 < self.chance < 1.0:
            raise ValueError("the chance must be between 0 and 1, and is never quite either")

    def detection(self, plane: Plane, x: Array, y: Array) -> Array:
        """How likely this look finds, or hears, a payload that lies at each of ``x``, ``y``."""
        fades = self.kind is not LookKind.SEARCHED
        return detection(
            plane, x, y, self.shape,
            area=self.area, reach_m=self.reach_m, chance=self.chance, fades=fades,
        )  # fmt: skip
