"""The launch-day brief: one page to print or to look at, without anything from elsewhere."""

from collections.abc import Iterator, Sequence
from html import escape
from importlib import resources
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.physics.geodesy import Plane
from groundstation.planning.course import Course
from groundstation.planning.decision import Weighed, word
from groundstation.planning.forecast import Forecast
from groundstation.planning.settings import FlightFile
from groundstation.planning.spread import Plan, Spread

Array = NDArray[np.float64]

WIDTH, HEIGHT, MARGIN = 640.0, 420.0, 24.0

CHECKLIST: Final = (
    ("Before", (
        "Notice filed, and what came back kept to",
        "Weather and winds of today looked at again",
        "Every tracker fixed and heard, at the base and in the car",
        "Batteries fresh, cameras running, cards empty, time set",
        "Name and telephone on the outside of every box",
    )),
    ("Filling", (
        "Cylinder chained, valve and regulator fit, nobody in front of it",
        "Gas outdoors or well aired: it takes the breath away without a warning",
        "Hydrogen: earthed, no spark, no flame, trained people only",
        "Gloves, eyes covered, balloon kept off the ground and off sharp things",
        "Neck lift weighed out of the wind",
    )),
    ("Letting go", (
        "Neck tied and taped, lines of the parachute free, knots looked at twice",
        "Nothing tall, no power line, no crowd downwind; sky looked at",
        "Trackers heard again, time noted, authority told where that is asked for",
    )),
    ("Chase and search", (
        "Two in a car: the driver drives, the passenger reads",
        "Ask before you step on land; no railways, water, ice, roofs, trees or power lines",
        "Somebody knows where you are",
    )),
)  # fmt: skip
"""Common practice, no source."""


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
    return "".join(
        [
            '<!doctype html><html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{escape(flight.name)}</title><style>{_style()}</style></head><body>",
            f"<h1>{escape(flight.name)}: launch-day brief</h1>",
            f'<p class="word">By your own limits: {word(limits).value}.</p>',
            "<table><tr><th>Limit</th><th>Seen</th><th>Set</th><th></th></tr>",
            *(
                f"<tr><td>{escape(one.what)}</td><td>{escape(one.seen)}</td>"
                f"<td>{escape(one.limit)}</td><td>{one.word.name.lower()}</td></tr>"
                for one in limits
            ),
            '</table><p class="soft">It weighs only these. You decide, and weather, airspace,'
            " people and land may say otherwise.</p>",
            f"<h2>Figures</h2><table>{''.join(_figures(plan))}</table>",
            f"<h2>Where</h2>{_picture(flight, forecast, course, areas)}",
            f'<p class="soft">{escape(forecast.basis)}</p>',
            f"<h2>Look at</h2><ul>{''.join(f'<li>{escape(one)}</li>' for one in told)}</ul>",
            '<h2>Checklist</h2><p class="soft">Common practice; make your own of it.</p>',
            '<div class="lists">',
            *(
                f"<div><b>{name}</b><ul>{''.join(f'<li>{item}</li>' for item in items)}</ul></div>"
                for name, items in CHECKLIST
            ),
            f'</div><p class="soft">{escape(caution)}</p></body></html>',
        ]
    )


def _style() -> str:
    return (resources.files("groundstation") / "resources" / "brief.css").read_text("utf-8")


def _figures(plan: Plan) -> Iterator[str]:
    lift = plan.lift
    yield _row("neck lift to weigh", f"{lift.neck_kg:.2f} kg")
    yield _row("gas", f"{lift.volume_m3:.2f} m³, {lift.diameter_m:.2f} m across")
    for name, spread, scale, unit in (
        ("ascent", plan.ascent_rate_ms, 1.0, "m/s"),
        ("burst", plan.burst_altitude_m, 1e-3, "km"),
        ("climb", plan.climb_s, 1.0 / 60.0, "min"),
        ("fall at the ground", plan.descent_rate_ms, 1.0, "m/s"),
        ("impact", plan.impact_j, 1.0, "J"),
    ):
        yield _row(name, _spread(spread, scale, unit))


def _row(name: str, value: str) -> str:
    return f"<tr><th>{name}</th><td>{value}</td></tr>"


def _spread(spread: Spread, scale: float, unit: str) -> str:
    value, low, high = (scale * one for one in (spread.value, spread.low, spread.high))
    return f"{value:.1f} {unit} ({low:.1f} to {high:.1f} in nine of ten)"


def _picture(
    flight: FlightFile,
    forecast: Forecast,
    course: Course,
    areas: Sequence[tuple[str, Sequence[Array]]],
) -> str:
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

    parts = []
    for name, rings in areas:
        for ring in rings:
            x, y = plane.to_xy(ring[:, 1], ring[:, 0])
            parts.append(
                f'<polygon class="out" points="{at(x, y)}"><title>{escape(name)}</title></polygon>'
            )
        px, py = at(*plane.to_xy(rings[0][:, 1].mean(), rings[0][:, 0].mean())).split(",")
        parts.append(f'<text x="{px}" y="{py}" text-anchor="middle">{escape(name)}</text>')
    for kind, loops in regions.items():
        parts += [f'<polygon class="{kind}" points="{at(x, y)}"/>' for x, y in loops]
    parts.append(f'<polyline class="way" points="{at(*way)}"/>')
    for text, lat, lon in (
        (flight.site.name, flight.site.latitude_deg, flight.site.longitude_deg),
        ("landing", landing.latitude_deg, landing.longitude_deg),
    ):
        px, py = at(*plane.to_xy(lat, lon)).split(",")
        parts.append(f'<circle cx="{px}" cy="{py}" r="4"/>')
        end = ' text-anchor="end" dx="-8"' if float(px) > 0.75 * WIDTH else ' dx="8"'
        parts.append(f'<text x="{px}" y="{py}"{end}>{escape(text)}</text>')
    bar = 10_000.0 / span
    parts.append(
        f'<path d="M12 {HEIGHT - 12:.0f}h{bar:.1f}" stroke="#13161a" stroke-width="3"/>'
        f'<text x="12" y="{HEIGHT - 18:.0f}">10 km</text>'
        f'<text x="{WIDTH - 20:.0f}" y="24">N</text>'
    )
    return (
        f'<svg viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" role="img"'
        f' aria-label="The course and the landing regions, north up">{"".join(parts)}</svg>'
    )
