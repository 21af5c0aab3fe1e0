"""The report of a flight: one HTML file that needs nothing else."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from html import escape
from importlib import resources

import numpy as np

from groundstation.debrief.drawing import Drawing, span_of
from groundstation.debrief.figures import (
    Error,
    Figures,
    Track,
    ending,
    errors,
    falls,
    figures,
    rises,
    track_of,
    winds,
)
from groundstation.debrief.flights import FlightLog
from groundstation.debrief.heard_section import heard_html
from groundstation.debrief.log_section import log_html
from groundstation.debrief.own_log import OwnLog
from groundstation.debrief.silences import Silence, silences
from groundstation.debrief.words import clock, day
from groundstation.flight.settings import PlanSettings
from groundstation.physics.fall import FallModel
from groundstation.physics.geodesy import distance_bearing
from groundstation.physics.layers import THINNESS, layer_of
from groundstation.records import Landing


def report_html(
    flight: FlightLog,
    plan: PlanSettings | None = None,
    own: OwnLog | None = None,
    again: Sequence[Landing] = (),
    quiet: Sequence[Silence] | None = None,
    next_time: Sequence[str] = (),
) -> str:
    """The whole page. ``plan`` is what was expected, to be held beside it; ``own`` the payload's
    log and ``again`` the estimates that were made from it. ``quiet`` are the silences, explained
    without base and trackers where they are not given; ``next_time`` what the flight taught."""
    track = track_of(flight) if own is None else own.track
    lay = None if own is None else own.end
    known, off = figures(flight, track), list(errors(flight, lay))
    if own is not None and own.touchdown_ms is not None:
        known = replace(known, touchdown_ms=own.touchdown_ms)
    style = (resources.files("groundstation") / "resources" / "report.css").read_text("utf-8")
    parts = [
        '<!doctype html><html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(flight.payload)}, {day(flight.launch_utc)}</title>",
        f"<style>{style}</style></head><body>",
        f"<h1>{escape(flight.payload)}, {day(flight.launch_utc)}</h1>",
        f'<p class="soft">Flight {flight.number}. {escape(_told(flight))} Times are UTC.</p>',
        f'<dl class="facts">{"".join(_facts(flight, known))}</dl>',
    ]
    if track is not None:
        parts += [
            "<h2>The flight</h2>",
            f'<div class="pair">{_map(flight, track)}{_heights(flight, track, plan)}</div>',
            "<h2>Rates and winds</h2>",
            f'<div class="pair">{_rise(flight, track, plan)}{_fall(track, plan)}'
            f"{_profile(track)}{_hodograph(track)}</div>",
        ]
    if plan is not None:
        parts.append(_beside(known, plan, ending(flight) or lay))
    parts += ["<h2>The landing estimate</h2>", _estimates(flight, off)]
    if own is not None:
        off_again = list(errors(replace(flight, landings=tuple(again)), lay))
        parts += ["<h2>The payload's own log</h2>", log_html(own, flight.launch_utc, off_again)]
    parts += [
        "<h2>What was heard</h2>",
        heard_html(flight, list(silences(flight)) if quiet is None else quiet),
    ]
    parts += ["<h2>What was told</h2>", _alerts(flight)]
    if next_time:
        taught = "".join(f"<li>{escape(one)}</li>" for one in next_time)
        parts += ["<h2>Next time</h2>", f"<ul>{taught}</ul>"]
    parts.append("</body></html>")
    return "".join(parts)


def _facts(flight: FlightLog, known: Figures) -> Iterator[str]:
    def fact(name: str, value: str) -> str:
        return f"<div><dt>{name}</dt><dd>{escape(value)}</dd></div>"

    yield fact("launch", clock(flight.launch_utc))
    if flight.burst_utc is not None:
        yield fact("burst", clock(flight.burst_utc))
    if known.highest_m is not None:
        yield fact("highest", f"{known.highest_m:,.0f} m")
    yield fact("in the air", f"{known.duration_s / 60.0:.0f} min")
    yield fact("from the launch", f"{known.distance_m / 1000.0:.1f} km")
    if known.rise_ms is not None:
        yield fact("ascent", f"{known.rise_ms:.1f} ± {known.rise_sd_ms or 0.0:.1f} m/s")
    if known.fall_ms is not None:
        yield fact("fall at sea level", f"{known.fall_ms:.1f} ± {known.fall_sd_ms or 0.0:.1f} m/s")
    if known.touchdown_ms is not None:
        yield fact("at the ground, about", f"{known.touchdown_ms:.1f} m/s")
    yield fact("fixes", f"{known.fixes:,}")
    yield fact("outcome", flight.outcome)


def _map(flight: FlightLog, track: Track) -> str:
    x, y = track.x_m / 1000.0, track.y_m / 1000.0
    xs, ys = [x], [y]
    moves = [(one.latitude_deg, one.longitude_deg) for one in flight.landings]
    if moves:
        mx, my = (one / 1000.0 for one in track.plane.to_xy(*np.array(moves).T))
        # Early ones may lie far off, and would make all else small.
        near = np.hypot(mx, my) < 1.6 * np.hypot(x, y).max() + 5.0
        xs.append(mx[near])
        ys.append(my[near])
    drawing = Drawing(
        "The track, and how the estimated landing moved (dotted), north up",
        span_of(*xs), span_of(*ys), "km east of the launch", "km north", even=True, height=380.0,
    )  # fmt: skip
    if flight.landings:
        last = flight.landings[-1]
        for kind, region in (("r90", last.region_90), ("r50", last.region_50)):
            for ring in region:
                rx, ry = track.plane.to_xy(*np.array(ring).T)
                drawing.area(rx / 1000.0, ry / 1000.0, kind)
        drawing.line(mx, my, "moves")
    drawing.line(x, y, "way")
    drawing.word(float(x[0]), float(y[0]), "launch")
    drawing.word(float(x[track.top]), float(y[track.top]), "highest")
    end = ending(flight)
    if end is not None:
        ex, ey = (float(one) / 1000.0 for one in track.plane.to_xy(*end))
        drawing.dots([ex], [ey], "hit", 5.0)
        drawing.word(ex, ey, "end")
    return drawing.svg()


def _heights(flight: FlightLog, track: Track, plan: PlanSettings | None) -> str:
    minutes = (track.time_s - flight.launch_utc) / 60.0
    drawing = Drawing(
        "Height over time", span_of(minutes, [0.0]), span_of(track.altitude_m / 1000.0),
        "minutes after the launch", "km", height=380.0,
    )  # fmt: skip
    if plan is not None:
        ground = float(track.altitude_m[0])
        peak = (plan.burst_altitude_m - ground) / plan.ascent_rate_ms / 60.0
        drawing.line([0.0, peak], [ground / 1000.0, plan.burst_altitude_m / 1000.0], "plan")
    drawing.line(minutes, track.altitude_m / 1000.0, "way")
    for text, at in (("burst", flight.burst_utc), ("landed", flight.landed_utc)):
        if at is not None:
            drawing.mark((at - flight.launch_utc) / 60.0, text)
    return drawing.svg()


def _rise(flight: FlightLog, track: Track, plan: PlanSettings | None) -> str:
    rise = rises(track, flight.launch_utc)
    if rise is None:
        return ""
    height, rate = rise[0] / 1000.0, rise[1]
    drawing = Drawing(
        "Rate of the ascent over height, means of a minute", span_of(rate, [0.0, 8.0]),
        span_of(height, [0.0]), "m/s", "km",
    )  # fmt: skip
    if plan is not None:
        drawing.line([plan.ascent_rate_ms] * 2, span_of(height), "plan")
    drawing.dots(rate, height, "dot")
    return drawing.svg()


def _fall(track: Track, plan: PlanSettings | None) -> str:
    fall = falls(track)
    if fall is None:
        return ""
    dashes = "; the dashes are the plan" if plan is not None else ""
    drawing = Drawing(
        f"Rate of the fall over height{dashes}", span_of(fall.rate_ms, [0.0]),
        span_of(fall.altitude_m / 1000.0, [0.0]), "m/s", "km",
    )  # fmt: skip
    if plan is not None and plan.descent_rate_ms is not None:
        z = np.linspace(float(fall.altitude_m.min()), float(fall.altitude_m.max()), 60)
        model = FallModel.planned(plan.descent_rate_ms, plan.descent_rate_sd_ms)
        drawing.line(np.exp(model.mean(z)) * THINNESS[layer_of(z)], z / 1000.0, "plan")
    drawing.dots(fall.rate_ms, fall.altitude_m / 1000.0, "dot")
    return drawing.svg()


def _profile(track: Track) -> str:
    up, down = list(winds(track, up=True)), list(winds(track, up=False))
    if not up:
        return ""
    speeds = [[float(np.hypot(u, v)) for _, u, v in way] for way in (up, down)]
    heights = [[z / 1000.0 for z, _, _ in way] for way in (up, down)]
    down_too = ", brown coming down" if len(down) > 1 else ""
    drawing = Drawing(
        f"Wind over height: blue going up{down_too}", span_of(*speeds, [0.0]),
        span_of(*heights, [0.0]), "m/s", "km",
    )  # fmt: skip
    drawing.line(speeds[0], heights[0], "way")
    drawing.line(speeds[1], heights[1], "other")
    return drawing.svg()


def _hodograph(track: Track) -> str:
    up = list(winds(track, up=True))
    if len(up) < 2:
        return ""
    _, u, v = np.array(up).T
    drawing = Drawing(
        "Hodograph of the ascent: where the air goes, each 5 km named", span_of(u, [0.0]),
        span_of(v, [0.0]), "m/s to the east", "m/s to the north", even=True,
    )  # fmt: skip
    drawing.line(u, v, "way")
    drawing.dots([0.0], [0.0], "hit", 3.0)
    named = -1
    for height, east, north in up:
        if height // 5_000.0 > named:
            named = int(height // 5_000.0)
            drawing.dots([east], [north], "dot", 3.5)
            drawing.word(east, north, f"{height / 1000.0:.0f} km", if_free=True)
    return drawing.svg()


def _beside(known: Figures, plan: PlanSettings, end: tuple[float, float] | None) -> str:
    rows = []
    for name, flown, wanted, sd, scale, unit in (
        ("ascent", known.rise_ms, plan.ascent_rate_ms, plan.ascent_rate_sd_ms, 1.0, "m/s"),
        ("highest", known.highest_m, plan.burst_altitude_m, plan.burst_altitude_sd_m, 1e-3, "km"),
        ("fall at sea level", known.fall_ms, plan.descent_rate_ms, plan.descent_rate_sd_ms, 1.0,
         "m/s"),
    ):  # fmt: skip
        if flown is None or wanted is None:
            continue
        sds = (flown - wanted) / sd
        word = "as planned"
        if abs(sds) > 1.65:
            word = "more than planned" if sds > 0.0 else "less than planned"
        rows.append(
            f"<tr><td>{name}</td><td>{scale * wanted:.1f} ± {scale * sd:.1f} {unit}</td>"
            f"<td>{scale * flown:.1f} {unit}</td><td>{word}</td></tr>"
        )
    if plan.landing is not None and end is not None:
        away, bearing = distance_bearing(
            plan.landing.latitude_deg, plan.landing.longitude_deg, *end
        )
        within = away <= plan.landing.radius_90_m
        rows.append(
            f"<tr><td>landing</td><td>within {plan.landing.radius_90_m / 1000.0:.1f} km (90 %)</td>"
            f"<td>{away / 1000.0:.1f} km from it, towards {bearing:.0f}°</td>"
            f"<td>{'as planned' if within else 'elsewhere than planned'}</td></tr>"
        )
    head = "<tr><th></th><th>planned</th><th>flown</th><th></th></tr>"
    return f"<h2>Beside the plan</h2><table>{head}{''.join(rows)}</table>"


def _estimates(flight: FlightLog, off: list[Error]) -> str:
    if not flight.landings:
        return "<p>No estimate was made.</p>"
    if not off:
        return "<p>Where it came down is not known, so the estimates can't be judged.</p>"
    minutes = [(one.time_utc - flight.launch_utc) / 60.0 for one in off]
    km = [one.off_m / 1000.0 for one in off]
    radius = [one.radius_90_m / 1000.0 for one in off]
    drawing = Drawing(
        "How far the point was off (blue), and the radius that should hold nine tenths (brown)",
        span_of(minutes), span_of(km, radius, [0.0]), "minutes after the launch", "km",
    )  # fmt: skip
    drawing.line(minutes, radius, "other")
    drawing.line(minutes, km, "way")
    rows = [
        f"<tr><td>{clock(one.time_utc)}</td><td>{one.off_m / 1000.0:.1f} km</td>"
        f"<td>{'inside' if one.in_50 else 'outside'}, {one.radius_50_m / 1000.0:.1f} km</td>"
        f"<td>{'inside' if one.in_90 else 'outside'}, {one.radius_90_m / 1000.0:.1f} km</td></tr>"
        for one in off[:: max(1, len(off) // 12)]
    ]
    inside = 100.0 * sum(one.in_90 for one in off) / len(off)
    where = "where it was found" if flight.found else "where it was last heard on the ground"
    return (
        f"{drawing.svg()}<p>Of {len(off)} estimates {inside:.0f} % had the place {where} in their"
        f" 90 % region.</p><table><tr><th>at</th><th>off by</th><th>50 % region</th>"
        f"<th>90 % region</th></tr>{''.join(rows)}</table>"
    )


def _alerts(flight: FlightLog) -> str:
    if not flight.told:
        return "<p>Nothing.</p>"
    if all(one.delay_s is None for one in flight.told):
        rows = "".join(
            f"<tr><td>{clock(one.time_utc)}</td><td>{escape(one.title)}</td></tr>"
            for one in flight.told
        )
        return f"<p>Nothing of it was delivered; it stood on the page.</p><table>{rows}</table>"
    rows = "".join(
        f"<tr><td>{clock(one.time_utc)}</td><td>{escape(one.title)}</td>"
        f"<td>{'not delivered' if one.delay_s is None else f'{max(one.delay_s, 0.0):.0f} s later'}"
        "</td></tr>"
        for one in flight.told
    )
    return f"<table><tr><th>raised</th><th></th><th>delivered</th></tr>{rows}</table>"


def _told(flight: FlightLog) -> str:
    if flight.found is None:
        return ""
    told = f"Told by {flight.found.who}: " if flight.found.who else ""
    return f"{told}{flight.found.note}" if flight.found.note else ""
