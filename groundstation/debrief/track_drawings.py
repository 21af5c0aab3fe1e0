"""The drawings of a report: the track, heights, rates and winds, in the person's units."""

from dataclasses import dataclass

import numpy as np
from markupsafe import Markup
from numpy.typing import ArrayLike, NDArray

from groundstation.debrief.drawing import Drawing, span_of
from groundstation.debrief.figures import Track, ascent_pieces, descent_pieces, ending, winds
from groundstation.debrief.flights import FlightLog
from groundstation.debrief.touchdown import came_down
from groundstation.flight.settings import PlanSettings
from groundstation.language.catalogue import _
from groundstation.physics.fall import STEADY
from groundstation.physics.layers import SPEED_RATIO, layer_of
from groundstation.planning.readable_figures import Shown

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """The drawings of a track, those that there is enough for."""

    flight: list[Markup]
    rates: list[Markup]


def drawn(flight: FlightLog, track: Track, plan: PlanSettings | None, shown: Shown) -> Drawn:
    """All that there is enough for."""
    return Drawn(
        flight=[_map(flight, track, shown), _heights(flight, track, plan, shown)],
        rates=[
            _ascent(flight, track, plan, shown),
            _descent(track, plan, shown),
            _profile(track, shown),
            _hodograph(track, shown),
        ],
    )


def _map(flight: FlightLog, track: Track, shown: Shown) -> Markup:
    unit = shown.unit("away")

    def placed(where: ArrayLike) -> tuple[Array, Array]:
        """(latitude, longitude) rows, in what the drawing counts in."""
        x_m, y_m = track.plane.to_xy(*np.array(where).T)
        return shown.values("away", x_m), shown.values("away", y_m)

    x, y = shown.values("away", track.x_m), shown.values("away", track.y_m)
    xs, ys = [x], [y]
    moves = [(landing.latitude_deg, landing.longitude_deg) for landing in flight.landings]
    if moves:
        mx, my = placed(moves)
        # Early ones may lie far off, and would make all else small.
        near = np.hypot(mx, my) < 1.6 * np.hypot(x, y).max() + shown.value("away", 5_000.0)
        xs.append(mx[near])
        ys.append(my[near])
    drawing = Drawing(
        _("The track, and how the estimated landing moved (dotted), north up"),
        span_of(*xs), span_of(*ys), _("{unit} east of the launch", unit=unit),
        _("{unit} north", unit=unit), even=True, height=380.0,
    )  # fmt: skip
    if flight.landings:
        last = flight.landings[-1]
        for kind, region in (("r90", last.region_90), ("r50", last.region_50)):
            for ring in region:
                drawing.area(*placed(ring), kind)
        drawing.line(mx, my, "moves")
    drawing.line(x, y, "way")
    drawing.word(float(x[0]), float(y[0]), _("launch"))
    if track.placed[track.top] or not flight.heights:
        drawing.word(float(x[track.top]), float(y[track.top]), _("highest"))
    end = ending(flight)
    if end is not None:
        ex, ey = placed([end])
        drawing.dots(ex, ey, "hit", 5.0)
        drawing.word(float(ex[0]), float(ey[0]), _("end"))
    return drawing.svg()


def _heights(flight: FlightLog, track: Track, plan: PlanSettings | None, shown: Shown) -> Markup:
    minutes = (track.time_s - flight.launch_utc) / 60.0
    heights = shown.values("height", track.altitude_m)
    alone = np.array([(height.time_utc, height.altitude_m) for height in flight.heights])
    alone = alone.reshape(-1, 2)
    at_minutes = (alone[:, 0] - flight.launch_utc) / 60.0
    levels = shown.values("height", alone[:, 1])
    title = _("Height over time")
    if len(alone):
        title = _("Height over time; dots: heights without a place")
    drawing = Drawing(
        title, span_of(minutes, at_minutes, [0.0]), span_of(heights, levels),
        _("minutes after the launch"), shown.unit("height"), height=380.0,
    )  # fmt: skip
    if plan is not None:
        ground = float(track.altitude_m[0])
        peak = (plan.burst_altitude_m - ground) / plan.ascent_rate_ms / 60.0
        ends = shown.values("height", [ground, plan.burst_altitude_m])
        drawing.line([0.0, peak], ends, "plan")
    drawing.line(minutes, heights, "way")
    drawing.dots(at_minutes, levels, "dot")
    down = came_down(flight)
    fell = None if down is None else down.when.time_utc
    for text, at in ((_("burst"), flight.burst_utc), (_("down"), fell)):
        if at is not None:
            drawing.mark((at - flight.launch_utc) / 60.0, text)
    return drawing.svg()


def _ascent(flight: FlightLog, track: Track, plan: PlanSettings | None, shown: Shown) -> Markup:
    rise = ascent_pieces(track, flight.launch_utc)
    if rise is None:
        return Markup("")
    height, rate = shown.values("height", rise[0]), shown.values("rate", rise[1])
    drawing = Drawing(
        _("Rate of the ascent over height, means of a minute"),
        span_of(rate, [0.0, shown.value("rate", 8.0)]), span_of(height, [0.0]),
        shown.unit("rate"), shown.unit("height"),
    )  # fmt: skip
    if plan is not None:
        drawing.line([shown.value("rate", plan.ascent_rate_ms)] * 2, span_of(height), "plan")
    drawing.dots(rate, height, "dot")
    return drawing.svg()


def _descent(track: Track, plan: PlanSettings | None, shown: Shown) -> Markup:
    fall = descent_pieces(track)
    if fall is None:
        return Markup("")
    height, rate = shown.values("height", fall.altitude_m), shown.values("rate", fall.rate_ms)
    title = _("Rate of the fall over height")
    if plan is not None:
        title = _("Rate of the fall over height; the dashes are the plan")
    drawing = Drawing(
        title, span_of(rate, [0.0]), span_of(height, [0.0]),
        shown.unit("rate"), shown.unit("height"),
    )  # fmt: skip
    if plan is not None and plan.descent_rate_ms is not None:
        z = np.linspace(float(fall.altitude_m.min()), float(fall.altitude_m.max()), 60)
        model = STEADY.planned(plan.descent_rate_ms, plan.descent_rate_sd_ms)
        expected = shown.values("rate", np.exp(model.mean(z)) * SPEED_RATIO[layer_of(z)])
        drawing.line(expected, shown.values("height", z), "plan")
    drawing.dots(rate, height, "dot")
    return drawing.svg()


def _profile(track: Track, shown: Shown) -> Markup:
    up, down = list(winds(track, up=True)), list(winds(track, up=False))
    if not up:
        return Markup("")
    speeds = [
        shown.values("wind", [float(np.hypot(u, v)) for _, u, v in way]) for way in (up, down)
    ]
    heights = [shown.values("height", [z for z, _, _ in way]) for way in (up, down)]
    title = _("Wind over height: blue going up")
    if len(down) > 1:
        title = _("Wind over height: blue going up, brown coming down")
    drawing = Drawing(
        title, span_of(*speeds, [0.0]), span_of(*heights, [0.0]),
        shown.unit("wind"), shown.unit("height"),
    )  # fmt: skip
    drawing.line(speeds[0], heights[0], "way")
    drawing.line(speeds[1], heights[1], "other")
    return drawing.svg()


def _hodograph(track: Track, shown: Shown) -> Markup:
    up = list(winds(track, up=True))
    if len(up) < 2:
        return Markup("")
    z, u, v = np.array(up).T
    u, v = shown.values("wind", u), shown.values("wind", v)
    unit, every_m = shown.unit("wind"), shown.levels_m
    drawing = Drawing(
        _("Hodograph of the ascent: where the air goes, each {height} named",
          height=shown.text("level", every_m)),
        span_of(u, [0.0]), span_of(v, [0.0]), _("{unit} to the east", unit=unit),
        _("{unit} to the north", unit=unit), even=True,
    )  # fmt: skip
    drawing.line(u, v, "way")
    drawing.dots([0.0], [0.0], "hit", 3.0)
    named = -1
    for height, east, north in zip(z, u, v, strict=True):
        if height // every_m > named:
            named = int(height // every_m)
            drawing.dots([east], [north], "dot", 3.5)
            drawing.word(east, north, shown.text("level", height), if_free=True)
    return drawing.svg()
