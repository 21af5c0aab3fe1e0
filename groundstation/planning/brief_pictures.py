"""The pictures of a brief: the course with its regions and what is in the way, and the winds."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groundstation.language.catalogue import _
from groundstation.language.numbers import marked, number
from groundstation.physics.geodesy import Plane
from groundstation.physics.layers import MIDDLE_M
from groundstation.planning.course import Course
from groundstation.planning.forecast import Forecast
from groundstation.planning.settings import FlightFile
from groundstation.records import NamedPlace
from groundstation.units import MILE_M, Units

Array = NDArray[np.float64]

WIDTH, HEIGHT, MARGIN = 640, 420, 24.0  # user units: half a printed page (own choice)
LABEL = 52.0
"""Left of and below the picture, for the degrees."""

STEPS_DEG = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)  # own choice: round degrees
MOST_LINES = 6  # own choice: as many as can be read
APART_X, APART_Y = 90.0, 18.0  # own choice: a name of a dozen letters, and a line
MOST_TOWNS = 14  # own choice: as many as leave the course to be seen
ARROW_M = 2_000.0  # own choice: arrows that do not touch

Ground = Mapping[str, Sequence[Sequence[Sequence[float]]]]
"""By kind (coast, border, river, lake): lines of [latitude, longitude]."""

Area = tuple[str, Sequence[Array], float]
"""Name, parts of (longitude, latitude), and half the width of lines and points in metres (0 of
areas)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """A place of the picture, in its own units as text."""

    name: str
    x: str
    y: str
    rings: tuple[str, ...] = ()
    wide: str = ""

    @property
    def at_the_right(self) -> bool:
        return float(self.x) > 0.75 * WIDTH


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """What the template draws. Points are as SVG has them, ``bar`` is how long 10 km are; of what
    is in the way ``wide`` is how wide its lines are, "" of areas."""

    areas: list[Named]
    regions: list[tuple[str, str]]
    way: str
    fouled: str
    meridians: list[tuple[str, str]]
    parallels: list[tuple[str, str]]
    places: list[Named]
    towns: list[Named]
    ground: list[tuple[str, str]]
    bar: str
    bar_text: str
    width: int = WIDTH
    height: int = HEIGHT


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """What of the ground the picture holds: ``span`` metres to a unit, about a middle."""

    plane: Plane
    middle_x: float
    middle_y: float
    span: float

    def corners(self) -> tuple[Array, Array]:
        """Latitudes and longitudes of its south west and north east."""
        half = self.span * np.array([WIDTH, HEIGHT]) / 2.0
        sides = np.array([-1.0, 1.0])
        lat, lon = self.plane.to_latlon(
            self.middle_x + half[0] * sides, self.middle_y + half[1] * sides
        )
        return np.asarray(lat), np.asarray(lon)

    def shows(self, x_m: Array, y_m: Array) -> bool:
        """Whether a line comes near it."""
        half = self.span * np.array([WIDTH, HEIGHT]) / 2.0
        x, y = x_m - self.middle_x, y_m - self.middle_y
        inside = (x.max() >= -half[0], x.min() <= half[0], y.max() >= -half[1], y.min() <= half[1])
        return bool(all(inside))


def _sheet(forecast: Forecast, course: Course) -> _Sheet:
    landing = forecast.landing
    plane = Plane(landing.latitude_deg, landing.longitude_deg)
    x, y = plane.to_xy(course.latitude_deg, course.longitude_deg)
    rings = [plane.to_xy(*np.array(ring).T) for ring in landing.region_90]
    xs = np.concatenate([x, *(ring_x for ring_x, _ in rings)])
    ys = np.concatenate([y, *(ring_y for _, ring_y in rings)])
    return _Sheet(
        plane=plane,
        middle_x=float(xs.max() + xs.min()) / 2.0,
        middle_y=float(ys.max() + ys.min()) / 2.0,
        span=max(
            float(np.ptp(xs)) / (WIDTH - 2 * MARGIN), float(np.ptp(ys)) / (HEIGHT - 2 * MARGIN)
        ),
    )


def box_of(forecast: Forecast, course: Course) -> tuple[float, float, float, float]:
    """South, west, north and east of what the picture shows, in degrees."""
    lat, lon = _sheet(forecast, course).corners()
    return float(lat[0]), float(lon[0]), float(lat[1]), float(lon[1])


def picture(
    flight: FlightFile,
    forecast: Forecast,
    course: Course,
    areas: Sequence[Area],
    fouled: Course | None = None,
    towns: Sequence[NamedPlace] = (),
    ground: Ground | None = None,
) -> Picture:
    """``towns`` are what else has a name there, the largest first; of those that would run into
    others the larger is shown. ``ground`` is what lies around."""
    landing = forecast.landing
    unit_m = MILE_M if flight.shown.units is Units.IMPERIAL else 1_000.0
    sheet = _sheet(forecast, course)
    plane, span = sheet.plane, sheet.span
    way = plane.to_xy(course.latitude_deg, course.longitude_deg)
    regions = {
        name: [plane.to_xy(*np.array(ring).T) for ring in region]
        for name, region in (("r90", landing.region_90), ("r50", landing.region_50))
    }

    def at(x: Array, y: Array) -> str:
        px = WIDTH / 2.0 + (np.asarray(x) - sheet.middle_x) / span
        py = HEIGHT / 2.0 - (np.asarray(y) - sheet.middle_y) / span
        return " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(px.flat, py.flat, strict=True))

    def named(
        name: str, x: Array, y: Array, rings: Sequence[Array] = (), half_width_m: float = 0.0
    ) -> Named:
        px, py = at(x, y).split(",")
        drawn = tuple(at(*plane.to_xy(ring[:, 1], ring[:, 0])) for ring in rings)
        if half_width_m > 0.0:
            # A point is a line that goes nowhere, with round ends.
            drawn = tuple(
                coordinate if " " in coordinate else f"{coordinate} {coordinate}"
                for coordinate in drawn
            )
        wide = f"{max(2.0 * half_width_m / span, 2.0):.1f}" if half_width_m > 0.0 else ""
        return Named(name=name, x=px, y=py, rings=drawn, wide=wide)

    lat, lon = sheet.corners()
    places = [
        named(text, *plane.to_xy(lat, lon))
        for text, lat, lon in (
            (flight.site.name, flight.site.latitude_deg, flight.site.longitude_deg),
            (_("landing"), landing.latitude_deg, landing.longitude_deg),
        )
    ]
    spots = [
        named(town.name, *plane.to_xy(town.latitude_deg, town.longitude_deg)) for town in towns
    ]

    return Picture(
        areas=[
            named(_(name), *plane.to_xy(rings[0][:, 1].mean(), rings[0][:, 0].mean()), rings, half)
            for name, rings, half in areas
        ],
        regions=[(kind, at(x, y)) for kind, loops in regions.items() for x, y in loops],
        way=at(*way),
        fouled="" if fouled is None else at(*plane.to_xy(*_fall(fouled))),
        meridians=[
            (f"{marked(f'{degree:g}')}°", at(*plane.to_xy(float(lat.mean()), degree)).split(",")[0])
            for degree in _degrees(float(lon[0]), float(lon[1]))
        ],
        parallels=[
            (f"{marked(f'{degree:g}')}°", at(*plane.to_xy(degree, float(lon.mean()))).split(",")[1])
            for degree in _degrees(float(lat[0]), float(lat[1]))
        ],
        places=places,
        towns=_apart(spots, places),
        ground=[
            (kind, at(x, y))
            for kind, lines in (ground or {}).items()
            for x, y in (plane.to_xy(*np.array(line, dtype=float).T) for line in lines)
            if sheet.shows(x, y)
        ],
        bar=f"{10.0 * unit_m / span:.1f}",
        bar_text=f"10 {flight.shown.unit('distance')}",
    )


def _apart(spots: Sequence[Named], taken: Sequence[Named]) -> list[Named]:
    """Those whose words do not run into others'."""
    shown: list[Named] = []
    for spot in spots:
        near = any(
            abs(float(spot.x) - float(other.x)) < APART_X
            and abs(float(spot.y) - float(other.y)) < APART_Y
            for other in (*taken, *shown)
        )
        inside = 0.0 < float(spot.x) < WIDTH and 0.0 < float(spot.y) < HEIGHT
        if inside and not near and len(shown) < MOST_TOWNS:
            shown.append(spot)
    return shown


def _fall(course: Course) -> tuple[Array, Array]:
    return course.latitude_deg[course.top :], course.longitude_deg[course.top :]


def _degrees(low: float, high: float) -> list[float]:
    """Round ones between two."""
    step = next(
        (step_deg for step_deg in STEPS_DEG if (high - low) / step_deg <= MOST_LINES), STEPS_DEG[-1]
    )
    first = int(np.ceil(low / step))
    return [round(n * step, 2) for n in range(first, int(np.floor(high / step)) + 1)]


@dataclass(frozen=True, slots=True, kw_only=True)
class WindPicture:
    """Speed over height, going up and coming down, as points of SVG; ``arrows`` are (x, y, degrees
    to turn, what it is); ``ticks`` (text, x) and ``levels`` (text, y)."""

    up: str
    down: str
    arrows: list[tuple[str, str, str, str]]
    ticks: list[tuple[str, str]]
    levels: list[tuple[str, str]]
    unit: str
    width: int = WIDTH
    height: int = 300


def wind_picture(flight: FlightFile, course: Course) -> WindPicture:
    """The winds that the course meets, with arrows that fly with them, north up."""
    met, shown = course.met, flight.shown
    ground, top = float(course.altitude_m[0]), float(course.altitude_m.max())
    use = (ground <= MIDDLE_M) & (top >= MIDDLE_M)
    heights = MIDDLE_M[use]
    speed = np.hypot(met.u_ms, met.v_ms)[use]
    fall = met.fall or (met.u_ms, met.v_ms)
    later = np.hypot(*fall)[use]
    fastest = max(float(speed.max()), float(later.max()), 1.0)
    left, right, low, high = LABEL, WIDTH - 90.0, 300.0 - 30.0, 14.0

    def x(value: float) -> float:
        return left + value / fastest * (right - left)

    def y(height: float) -> float:
        return low + (height - ground) / (top - ground) * (high - low)

    def line(values: Array) -> str:
        return " ".join(f"{x(v):.1f},{y(z):.1f}" for v, z in zip(values, heights, strict=True))

    arrows = []
    for level in np.arange(np.ceil(ground / ARROW_M) * ARROW_M, top, ARROW_M):
        u, v = (float(np.interp(level, MIDDLE_M, wind_ms)) for wind_ms in (met.u_ms, met.v_ms))
        towards = np.degrees(np.arctan2(u, v)) % 360.0
        what = _(
            "{wind} from {bearing}°",
            wind=shown.text("wind", float(np.hypot(u, v))),
            bearing=number((towards + 180.0) % 360.0),
        )
        arrows.append((f"{right + 45.0:.0f}", f"{y(level):.1f}", f"{towards:.0f}", what))
    every = shown.levels_m
    return WindPicture(
        up=line(speed),
        down=line(later) if met.fall is not None else "",
        arrows=arrows,
        ticks=[
            (shown.number("wind", value), f"{x(value):.1f}")
            for value in (0.0, fastest / 2.0, fastest)
        ],
        levels=[
            (shown.text("height", n * every), f"{y(n * every):.1f}")
            for n in range(int(np.ceil(ground / every)), int(top // every) + 1)
        ],
        unit=shown.unit("wind"),
    )
