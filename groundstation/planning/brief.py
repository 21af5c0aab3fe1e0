"""The launch-day brief: one page to print or to look at, without anything from elsewhere."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib import resources

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from groundstation.physics.geodesy import Plane
from groundstation.planning.checklist import CHECKLIST
from groundstation.planning.course import Course
from groundstation.planning.decision import Weighed, word
from groundstation.planning.forecast import Forecast
from groundstation.planning.settings import FlightFile
from groundstation.planning.spread import Plan, Spread
from groundstation.templates import templates

Array = NDArray[np.float64]

WIDTH, HEIGHT, MARGIN = 640, 420, 24.0  # user units: half a printed page (own choice)


def brief_html(
    flight: FlightFile,
    plan: Plan,
    forecast: Forecast,
    course: Course,
    limits: tuple[Weighed, ...],
    areas: Sequence[tuple[str, Sequence[Array]]],
    told: Sequence[str],
    caution: str,
) -> str:
    """``areas`` are keep-outs with their rings (longitude, latitude), ``told`` the warnings."""
    page = templates("groundstation.planning").get_template("brief.html")
    return page.render(
        flight=flight,
        style=Markup(_style()),
        word=word(limits).value,
        limits=limits,
        figures=_figures(plan),
        picture=_picture(flight, forecast, course, areas),
        basis=forecast.basis,
        told=told,
        checklist=CHECKLIST,
        caution=caution,
    )


def _style() -> str:
    return (resources.files("groundstation") / "resources" / "brief.css").read_text("utf-8")


def _figures(plan: Plan) -> Iterator[tuple[str, str]]:
    lift = plan.lift
    yield "neck lift to weigh", f"{lift.neck_kg:.2f} kg"
    yield "gas", f"{lift.volume_m3:.2f} m³, {lift.diameter_m:.2f} m across"
    for name, spread, scale, unit in (
        ("ascent", plan.ascent_rate_ms, 1.0, "m/s"),
        ("burst", plan.burst_altitude_m, 1e-3, "km"),
        ("climb", plan.climb_s, 1.0 / 60.0, "min"),
        ("fall at the ground", plan.descent_rate_ms, 1.0, "m/s"),
        ("impact", plan.impact_j, 1.0, "J"),
    ):
        yield name, _spread(spread, scale, unit)


def _spread(spread: Spread, scale: float, unit: str) -> str:
    value, low, high = (scale * number for number in (spread.value, spread.low, spread.high))
    return f"{value:.1f} {unit} ({low:.1f} to {high:.1f} in nine of ten)"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Named:
    """A place of the picture, in its own units as text."""

    name: str
    x: str
    y: str
    rings: tuple[str, ...] = ()

    @property
    def at_the_right(self) -> bool:
        return float(self.x) > 0.75 * WIDTH


@dataclass(frozen=True, slots=True, kw_only=True)
class _Picture:
    """What the template draws. Points are as SVG has them, ``bar`` is how long 10 km are."""

    areas: list[_Named]
    regions: list[tuple[str, str]]
    way: str
    places: list[_Named]
    bar: str
    width: int = WIDTH
    height: int = HEIGHT


def _picture(
    flight: FlightFile,
    forecast: Forecast,
    course: Course,
    areas: Sequence[tuple[str, Sequence[Array]]],
) -> _Picture:
    landing = forecast.landing
    plane = Plane(landing.latitude_deg, landing.longitude_deg)
    way = plane.to_xy(course.latitude_deg, course.longitude_deg)
    regions = {
        name: [plane.to_xy(*np.array(ring).T) for ring in region]
        for name, region in (("r90", landing.region_90), ("r50", landing.region_50))
    }
    xs = np.concatenate([way[0], *(x for x, _ in regions["r90"])])
    ys = np.concatenate([way[1], *(y for _, y in regions["r90"])])
    span = max(float(np.ptp(xs)) / (WIDTH - 2 * MARGIN), float(np.ptp(ys)) / (HEIGHT - 2 * MARGIN))
    middle_x, middle_y = (xs.max() + xs.min()) / 2.0, (ys.max() + ys.min()) / 2.0

    def at(x: Array, y: Array) -> str:
        px = WIDTH / 2.0 + (np.asarray(x) - middle_x) / span
        py = HEIGHT / 2.0 - (np.asarray(y) - middle_y) / span
        return " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(px.flat, py.flat, strict=True))

    def named(name: str, x: Array, y: Array, rings: Sequence[Array] = ()) -> _Named:
        px, py = at(x, y).split(",")
        drawn = (at(*plane.to_xy(ring[:, 1], ring[:, 0])) for ring in rings)
        return _Named(name=name, x=px, y=py, rings=tuple(drawn))

    return _Picture(
        areas=[
            named(name, *plane.to_xy(rings[0][:, 1].mean(), rings[0][:, 0].mean()), rings)
            for name, rings in areas
        ],
        regions=[(kind, at(x, y)) for kind, loops in regions.items() for x, y in loops],
        way=at(*way),
        places=[
            named(text, *plane.to_xy(lat, lon))
            for text, lat, lon in (
                (flight.site.name, flight.site.latitude_deg, flight.site.longitude_deg),
                ("landing", landing.latitude_deg, landing.longitude_deg),
            )
        ],
        bar=f"{10_000.0 / span:.1f}",
    )
