"""Distances, bearings and a local plane on the WGS 84 ellipsoid.

Exact geodesics come from GeographicLib (Karney 2013, J. Geodesy 87). The quick forms use the radii
of curvature at the middle latitude (any geodesy handbook, e.g. Torge, Geodesy, section 4.1) and
are for inner loops.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from geographiclib.geodesic import Geodesic
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

SEMI_MAJOR_M: Final = 6_378_137.0  # WGS 84 (NGA.STND.0036)
# WGS 84 (NGA.STND.0036): f (2 - f), 1/f = 298.257223563.
ECCENTRICITY_SQUARED: Final = 0.006_694_379_990_141_316
COMPASS: Final = (
    "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE",
    "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW",
)  # fmt: skip

MEAN_RADIUS_M: Final = 6_371_008.8
"""Mean radius R1 = (2a + b) / 3 of WGS 84 (Moritz 2000, Geodetic Reference System 1980)."""


def distance_bearing(lat1: float, lon1: float, lat2: float, lon2: float) -> tuple[float, float]:
    """Geodesic distance in metres and the initial bearing in degrees [0, 360) from 1 to 2.

    Degrees in. Exact to nanometres. Coincident points have bearing 0.
    """
    line = Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2)
    if line["s12"] == 0.0:
        return 0.0, 0.0
    return float(line["s12"]), float(line["azi1"]) % 360.0


def compass(bearing_deg: float) -> str:
    """One of sixteen directions, such as "ENE"."""
    return COMPASS[round(bearing_deg / 22.5) % 16]


def destination(lat: float, lon: float, bearing_deg: float, distance: float) -> tuple[float, float]:
    """The point ``distance`` metres along the geodesic that leaves at ``bearing_deg``."""
    end = Geodesic.WGS84.Direct(lat, lon, bearing_deg, distance)
    return float(end["lat2"]), float(end["lon2"])


def metres_per_degree(latitude_deg: float) -> tuple[float, float]:
    """Length of one degree of latitude and of longitude, in metres, at this latitude."""
    sine = math.sin(math.radians(latitude_deg))
    w = 1.0 - ECCENTRICITY_SQUARED * sine * sine
    meridional = SEMI_MAJOR_M * (1.0 - ECCENTRICITY_SQUARED) / w**1.5
    normal = SEMI_MAJOR_M / math.sqrt(w)
    degree = math.pi / 180.0
    return meridional * degree, normal * math.cos(math.radians(latitude_deg)) * degree


def distance_m(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    """Quick distance in metres: within 0.1 % of the geodesic up to 300 km below latitude 70."""
    north, east = metres_per_degree(0.5 * (lat1 + lat2))
    turn = (lon2 - lon1 + 180.0) % 360.0 - 180.0
    return math.hypot((lat2 - lat1) * north, turn * east)


@dataclass(frozen=True, slots=True)
class Plane:
    """A local plane around a point: metres east (x) and north (y), and back to degrees.

    The ellipsoid's own scale at the middle latitude of point and origin: a round trip is exact,
    and distances from the origin are right to 1e-4 within 150 km at mid-latitudes.
    """

    latitude_deg: float
    longitude_deg: float

    def to_xy(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> tuple[Array, Array]:
        """Degrees to metres east and north; shapes are kept."""
        lat = np.asarray(latitude_deg, dtype=float)
        turn = (np.asarray(longitude_deg, dtype=float) - self.longitude_deg + 180.0) % 360.0 - 180.0
        north, east = _scales(0.5 * (lat + self.latitude_deg))
        return turn * east, (lat - self.latitude_deg) * north

    def to_latlon(self, x_m: ArrayLike, y_m: ArrayLike) -> tuple[Array, Array]:
        """Metres east and north back to degrees; inverse of ``to_xy``."""
        y = np.asarray(y_m, dtype=float)
        lat = np.full_like(y, self.latitude_deg)
        for _ in range(3):
            north, _ = _scales(0.5 * (lat + self.latitude_deg))
            lat = self.latitude_deg + y / north
        _, east = _scales(0.5 * (lat + self.latitude_deg))
        lon = self.longitude_deg + np.asarray(x_m, dtype=float) / east
        return lat, (lon + 180.0) % 360.0 - 180.0


def _scales(latitude_deg: Array) -> tuple[Array, Array]:
    lat = np.radians(latitude_deg)
    sine = np.sin(lat)
    w = 1.0 - ECCENTRICITY_SQUARED * sine * sine
    degree = np.pi / 180.0
    meridional = SEMI_MAJOR_M * (1.0 - ECCENTRICITY_SQUARED) / w**1.5 * degree
    return meridional, SEMI_MAJOR_M / np.sqrt(w) * np.cos(lat) * degree


EFFECTIVE_RADIUS_M: Final = 4.0 / 3.0 * 6_371_000.0
"""Of an earth over which radio goes straight (ITU-R P.310: k = 4/3)."""


def horizon_m(height_m: float, antenna_m: float) -> float:
    """Radio horizon between two heights above smooth ground, in metres.

    Source: ITU-R P.310 and P.834, effective earth radius 4/3: d[km] = 4.12 (sqrt h1 + sqrt h2).
    """
    return 4_120.0 * (math.sqrt(max(height_m, 0.0)) + math.sqrt(max(antenna_m, 0.0)))


def horizon_height_m(distance: float, antenna_m: float) -> float:
    """Height above smooth ground below which ``distance`` metres away is out of sight.

    The inverse of ``horizon_m``; 0 where the antenna alone sees that far.
    """
    left = distance / 4_120.0 - math.sqrt(max(antenna_m, 0.0))
    return max(left, 0.0) ** 2
