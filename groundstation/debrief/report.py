"""The report of a flight: one HTML file that needs nothing else."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from importlib import resources

import numpy as np
from markupsafe import Markup

from groundstation.debrief.drawing import Drawing, span_of
from groundstation.debrief.figures import (
    Error,
    Figures,
    Track,
    ascent_pieces,
    descent_pieces,
    ending,
    errors,
    figures,
    track_of,
    winds,
)
from groundstation.debrief.flights import FlightLog
from groundstation.debrief.heard_section import heard_html
from groundstation.debrief.log_section import log_html
from groundstation.debrief.own_log import OwnLog
from groundstation.debrief.silences import Silence, silences
from groundstation.debrief.touchdown import came_down
from groundstation.debrief.words import PLAIN, Telling
from groundstation.flight.settings import PlanSettings
from groundstation.physics.fall import STEADY
from groundstation.physics.geodesy import distance_bearing
from groundstation.physics.layers import SPEED_RATIO, layer_of
from groundstation.planning.shown import Shown
from groundstation.records import Landing
from groundstation.templates import templates


def report_html(
    flight: FlightLog,
    plan: PlanSettings | None = None,
    own: OwnLog | None = None,
    again: Sequence[Landing] = (),
    quiet: Sequence[Silence] | None = None,
    next_time: Sequence[str] = (),
    lesson: str = "",
    telling: Telling = PLAIN,
) -> str:
    """The whole page. ``plan`` is what was expected, to be held beside it; ``own`` the payload's
    log and ``again`` the estimates that were made from it. ``quiet`` are the silences, explained
    without base and trackers where they are not given; ``next_time`` what the flight taught,
    ``lesson`` that as it is kept; ``telling`` the station's time zone and units."""
    track = track_of(flight) if own is None else own.track
    lay = None if own is None else own.end
    known, off = figures(flight, track), list(errors(flight, lay))
    if own is not None and own.touchdown_ms is not None:
        known = replace(known, touchdown_ms=own.touchdown_ms)
    style = (resources.files("groundstation") / "resources" / "report.css").read_text("utf-8")
    log = None
    if own is not None:
        off_again = list(errors(replace(flight, landings=tuple(again)), lay))
        log = log_html(own, flight.launch_utc, off_again)
    beside = None
    if plan is not None:
        beside = list(_beside(known, plan, ending(flight) or lay, telling.shown))
    page = templates("groundstation.debrief").get_template("report.html")
    return page.render(
        flight=flight,
        day=telling.day(flight.launch_utc),
        telling=telling,
        lesson=lesson,
        style=Markup(style),
        told=_told(flight),
        ended=_ended(flight, telling),
        facts=_facts(flight, known, telling),
        drawn=None if track is None else _drawn(flight, track, plan),
        beside=beside,
        estimates=_estimates(flight, off, telling) if off else None,
        log=log,
        heard=heard_html(flight, list(silences(flight)) if quiet is None else quiet, telling),
        alerts=list(_alerts(flight, telling)),
        delivered=any(message.delay_s is not None for message in flight.told),
        next_time=next_time,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Drawn:
    """The drawings of a track, those that there is enough for."""

    flight: list[Markup]
    rates: list[Markup]


def _drawn(flight: FlightLog, track: Track, plan: PlanSettings | None) -> _Drawn:
    return _Drawn(
        flight=[_map(flight, track), _heights(flight, track, plan)],
        rates=[
            _ascent(flight, track, plan), _descent(track, plan), _profile(track), _hodograph(track),
        ],
    )  # fmt: skip


def _facts(flight: FlightLog, known: Figures, telling: Telling) -> Iterator[tuple[str, str]]:
    shown = telling.shown
    yield ("launch", telling.clock(flight.launch_utc))
    if flight.burst_utc is not None:
        yield ("burst", telling.clock(flight.burst_utc))
    if known.highest_m is not None:
        yield ("highest", shown.text("altitude", known.highest_m))
    down = came_down(flight)
    if down is not None:
        yield ("came down", down.words(telling))
    yield ("in the air" if down is not None else "heard in the air", _minutes(known.duration_s))
    yield ("from the launch", shown.text("away", known.distance_m))
    for name, rate, sd in (
        ("ascent", known.ascent_rate_ms, known.ascent_rate_sd_ms),
        ("fall at sea level", known.descent_rate_ms, known.descent_rate_sd_ms),
    ):
        if rate is not None:
            yield (name, f"{shown.number('rate', rate)} ± {shown.text('rate', sd or 0.0)}")
    if known.touchdown_ms is not None:
        yield ("at the ground, about", shown.text("rate", known.touchdown_ms))
    yield ("fixes", f"{known.fixes:,}")
    yield ("outcome", flight.outcome)


def _minutes(seconds: float) -> str:
    return f"{seconds / 60.0:.0f} min"


def _map(flight: FlightLog, track: Track) -> Markup:
    x, y = track.x_m / 1000.0, track.y_m / 1000.0
    xs, ys = [x], [y]
    moves = [(landing.latitude_deg, landing.longitude_deg) for landing in flight.landings]
    if moves:
        mx, my = (metres / 1000.0 for metres in track.plane.to_xy(*np.array(moves).T))
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
        ex, ey = (float(metres) / 1000.0 for metres in track.plane.to_xy(*end))
        drawing.dots([ex], [ey], "hit", 5.0)
        drawing.word(ex, ey, "end")
    return drawing.svg()


def _heights(flight: FlightLog, track: Track, plan: PlanSettings | None) -> Markup:
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
    down = came_down(flight)
    fell = None if down is None else down.when.time_utc
    for text, at in (("burst", flight.burst_utc), ("down", fell)):
        if at is not None:
            drawing.mark((at - flight.launch_utc) / 60.0, text)
    return drawing.svg()


def _ascent(flight: FlightLog, track: Track, plan: PlanSettings | None) -> Markup:
    rise = ascent_pieces(track, flight.launch_utc)
    if rise is None:
        return Markup("")
    height, rate = rise[0] / 1000.0, rise[1]
    drawing = Drawing(
        "Rate of the ascent over height, means of a minute", span_of(rate, [0.0, 8.0]),
        span_of(height, [0.0]), "m/s", "km",
    )  # fmt: skip
    if plan is not None:
        drawing.line([plan.ascent_rate_ms] * 2, span_of(height), "plan")
    drawing.dots(rate, height, "dot")
    return drawing.svg()


def _descent(track: Track, plan: PlanSettings | None) -> Markup:
    fall = descent_pieces(track)
    if fall is None:
        return Markup("")
    dashes = "; the dashes are the plan" if plan is not None else ""
    drawing = Drawing(
        f"Rate of the fall over height{dashes}", span_of(fall.rate_ms, [0.0]),
        span_of(fall.altitude_m / 1000.0, [0.0]), "m/s", "km",
    )  # fmt: skip
    if plan is not None and plan.descent_rate_ms is not None:
        z = np.linspace(float(fall.altitude_m.min()), float(fall.altitude_m.max()), 60)
        model = STEADY.planned(plan.descent_rate_ms, plan.descent_rate_sd_ms)
        drawing.line(np.exp(model.mean(z)) * SPEED_RATIO[layer_of(z)], z / 1000.0, "plan")
    drawing.dots(fall.rate_ms, fall.altitude_m / 1000.0, "dot")
    return drawing.svg()


def _profile(track: Track) -> Markup:
    up, down = list(winds(track, up=True)), list(winds(track, up=False))
    if not up:
        return Markup("")
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


def _hodograph(track: Track) -> Markup:
    up = list(winds(track, up=True))
    if len(up) < 2:
        return Markup("")
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


def _beside(
    known: Figures, plan: PlanSettings, end: tuple[float, float] | None, shown: Shown
) -> Iterator[tuple[str, str, str, str]]:
    """What it is, as planned, as flown, and a word on it."""
    for name, flown, wanted, sd, kind in (
        ("ascent", known.ascent_rate_ms, plan.ascent_rate_ms, plan.ascent_rate_sd_ms, "rate"),
        ("highest", known.highest_m, plan.burst_altitude_m, plan.burst_altitude_sd_m, "height"),
        ("fall at sea level", known.descent_rate_ms, plan.descent_rate_ms,
         plan.descent_rate_sd_ms, "rate"),
    ):  # fmt: skip
        if flown is None or wanted is None:
            continue
        sds = (flown - wanted) / sd
        word = "as planned"
        if abs(sds) > 1.65:
            word = "more than planned" if sds > 0.0 else "less than planned"
        planned = f"{shown.number(kind, wanted)} ± {shown.text(kind, sd)}"
        yield name, planned, shown.text(kind, flown), word
    if plan.landing is not None and end is not None:
        away, bearing = distance_bearing(
            plan.landing.latitude_deg, plan.landing.longitude_deg, *end
        )
        within = away <= plan.landing.radius_90_m
        yield (
            "landing",
            f"within {shown.text('away', plan.landing.radius_90_m)} (90 %)",
            f"{shown.text('away', away)} from it, towards {bearing:.0f}°",
            "as planned" if within else "elsewhere than planned",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Estimates:
    """How good the estimates were, as text."""

    drawn: Markup
    count: int
    inside: str
    where: str
    rows: list[tuple[str, str, str, str]]


def _estimates(flight: FlightLog, off: list[Error], telling: Telling) -> _Estimates:
    minutes = [(miss.time_utc - flight.launch_utc) / 60.0 for miss in off]
    km = [miss.off_m / 1000.0 for miss in off]
    radius = [miss.radius_90_m / 1000.0 for miss in off]
    drawing = Drawing(
        "How far the point was off (blue), and the radius that should hold nine tenths (brown)",
        span_of(minutes), span_of(km, radius, [0.0]), "minutes after the launch", "km",
    )  # fmt: skip
    drawing.line(minutes, radius, "other")
    drawing.line(minutes, km, "way")
    return _Estimates(
        drawn=drawing.svg(),
        count=len(off),
        inside=f"{100.0 * sum(miss.in_90 for miss in off) / len(off):.0f}",
        where=_where(flight),
        rows=[
            (
                telling.clock(miss.time_utc),
                telling.shown.text("away", miss.off_m),
                _held(miss.in_50, miss.radius_50_m, telling),
                _held(miss.in_90, miss.radius_90_m, telling),
            )
            for miss in off[:: max(1, len(off) // 12)]
        ],
    )


def _held(inside: bool, radius_m: float, telling: Telling) -> str:
    return f"{'inside' if inside else 'outside'}, {telling.shown.text('away', radius_m)}"


def _alerts(flight: FlightLog, telling: Telling) -> Iterator[tuple[str, str, str]]:
    """When raised, what it said, and when it was delivered."""
    for message in flight.told:
        late = (
            "not delivered"
            if message.delay_s is None
            else f"{max(message.delay_s, 0.0):.0f} s later"
        )
        yield telling.clock(message.time_utc), message.title, late


def _where(flight: FlightLog) -> str:
    if flight.found:
        return "where it was found"
    if flight.landed_utc is not None:
        return "where it was last heard on the ground"
    return "where it came down by its last fixes"


def _ended(flight: FlightLog, telling: Telling) -> str:
    """How its end is known."""
    down = came_down(flight)
    if down is None:
        return "When it came down is not known: too little of its fall was heard."
    place = ""
    if flight.found is None and flight.landed_utc is None:
        place = f" Where it lies is told to {telling.shown.text('away', down.radius_m)} by that."
        if down.place is None:
            place = " Where it lies is not known."
    return f"It came down {down.words(telling)}, {down.basis(telling)}.{place}"


def _told(flight: FlightLog) -> str:
    if flight.found is None:
        return ""
    by_whom = f"Told by {flight.found.who}: " if flight.found.who else ""
    return f"{by_whom}{flight.found.note}" if flight.found.note else ""
