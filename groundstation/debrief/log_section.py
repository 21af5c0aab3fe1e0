"""The part of a report that the payload's own log makes possible."""

from collections.abc import Iterator
from typing import Final

import numpy as np
from markupsafe import Markup

from groundstation.debrief.drawing import Drawing, span_of
from groundstation.debrief.figures import Error
from groundstation.debrief.own_log import OwnLog
from groundstation.html.templates import templates
from groundstation.payload_log.air import Air, hydrostatic_off_m
from groundstation.payload_log.sanity import ground_off_m
from groundstation.physics.atmosphere import temperature
from groundstation.planning.readable_figures import Shown

KNOWN: Final = frozenset({"lat", "lon", "altitude_m", "pressure_hpa", "temperature_c", "humidity"})
MOST_OTHERS: Final = 8  # own choice: more drawings than this nobody looks at


def log_html(own: OwnLog, launch_utc: float, again: list[Error], shown: Shown) -> Markup:
    """Clock, sensors, air and what a faster radio would have made of it."""
    drawings = [*_air(own.air, shown)] if own.air is not None else []
    drawings += _others(own, launch_utc)
    part = templates("groundstation.debrief").get_template("log.html")
    return Markup(
        part.render(
            clock=_clock(own, shown),
            notes=own.log.notes,
            findings=own.findings,
            air=_air_words(own, shown),
            drawings=drawings,
            again=_again(again, shown),
        )
    )


def _clock(own: OwnLog, shown: Shown) -> Iterator[str]:
    clock = own.clock
    by = "the GPS heights" if clock.by == "gps" else "the pressure heights"
    counted = abs(clock.offset_s) > 86_400.0 * 3_650.0
    ahead = "" if counted else f"is {_signed(clock.offset_s)} and "
    yield (
        f"{len(own.log):,} rows. By {by}, beside {clock.reached} of {clock.fixes} fixes: its clock"
        f" {ahead}gains {3_600.0 * clock.drift:+.1f} s an hour; known to ±"
        f" {max(clock.offset_sd_s, 0.5):.1f} s in the middle of the flight. What is left is"
        f" {shown.text('altitude', clock.off_m)} (median)."
    )
    if clock.reached < clock.fixes:
        yield "Where the log does not reach, the drawings show the radio's fixes."


def _signed(offset_s: float) -> str:
    word = "ahead" if offset_s > 0.0 else "behind"
    whole = abs(offset_s)
    if whole < 0.5:
        return "right"
    minutes, seconds = divmod(round(whole), 60)
    return f"{minutes} min {seconds} s {word}" if minutes else f"{whole:.1f} s {word}"


def _air_words(own: OwnLog, shown: Shown) -> Iterator[str]:
    off = ground_off_m(own.log, own.altitude_m)
    if off is not None:
        yield f"On the ground the pressure stood for a height {_apart(shown, off)} the true one."
    air = own.air
    if air is None:
        return
    if air.by_pressure_m is not None:
        apart = (air.by_pressure_m - air.height_m)[np.isfinite(air.by_pressure_m)]
        if len(apart):
            yield (
                "Pressure altitude less true height:"
                f" {shown.value('altitude', apart.min()):+.0f} to"
                f" {shown.value('altitude', apart.max()):+.0f} {shown.unit('altitude')} on the way"
                " up."
            )
    made = hydrostatic_off_m(air)
    if made is not None:
        yield (
            "Pressure and temperature together (hypsometric equation) end"
            f" {_apart(shown, made)} the true height at the top."
        )
    if air.temperature_k is not None:
        yield (
            "No tropopause is in the profile."
            if air.tropopause_m is None
            else f"Tropopause (WMO's definition): {shown.text('altitude', air.tropopause_m)}."
        )
    for low, high in air.clouds:
        yield f"Likely cloud from {shown.span('altitude', low, high)} (humidity of 90 % or more)."
    fall = own.descent_rate_ms()
    if fall is not None:
        standard, met = fall
        yield (
            "The rate of fall reduced to sea level:"
            f" {shown.text('fine_rate', standard)} by the standard atmosphere,"
            f" {shown.text('fine_rate', met)} by the air that was met"
            f" ({100.0 * (met / standard - 1.0):+.1f} %)."
        )


def _apart(shown: Shown, off_m: float) -> str:
    return f"{shown.text('altitude', abs(off_m))} {'above' if off_m > 0.0 else 'below'}"


def _air(air: Air, shown: Shown) -> Iterator[Markup]:
    heights, unit = shown.values("height", air.height_m), shown.unit("height")
    if air.temperature_k is not None:
        known = np.isfinite(air.temperature_k)
        measured = shown.degrees(air.temperature_k[known])
        standard = shown.degrees(temperature(air.height_m))
        drawing = Drawing(
            "Temperature over height; the dashes are the standard atmosphere",
            span_of(measured, standard), span_of(heights, [0.0]), shown.degrees_unit, unit,
        )  # fmt: skip
        drawing.line(standard, heights, "plan")
        drawing.line(measured, heights[known], "way")
        if air.tropopause_m is not None:
            top = shown.value("height", air.tropopause_m)
            drawing.line(drawing.x_range, [top, top], "mark")
            drawing.word(drawing.x_range[0], top, "tropopause")
        yield drawing.svg()
    if air.by_pressure_m is not None:
        known = np.isfinite(air.by_pressure_m)
        apart = shown.values("altitude", (air.by_pressure_m - air.height_m)[known])
        drawing = Drawing(
            "Pressure altitude less true height", span_of(apart, [0.0]),
            span_of(heights, [0.0]), shown.unit("altitude"), unit,
        )  # fmt: skip
        drawing.line([0.0, 0.0], drawing.y_range, "plan")
        drawing.line(apart, heights[known], "way")
        yield drawing.svg()


def _others(own: OwnLog, launch_utc: float) -> Iterator[Markup]:
    minutes = (own.utc - launch_utc) / 60.0
    shown = [name for name in own.log.values if name not in KNOWN or name == "humidity"]
    for name in shown[:MOST_OTHERS]:
        values = own.log.values[name]
        known = np.isfinite(values)
        if known.sum() < 2:
            continue
        drawing = Drawing(
            name, span_of(minutes[known]), span_of(values[known]), "minutes after the launch",
            height=200.0,
        )  # fmt: skip
        drawing.line(minutes[known], values[known], "way")
        yield drawing.svg()


def _again(again: list[Error], shown: Shown) -> Iterator[str]:
    if not again:
        return
    off = np.array([replayed.off_m for replayed in again])
    inside = 100.0 * sum(replayed.in_90 for replayed in again) / len(again)
    yield (
        "Estimated again each minute, as if the log had been heard every ten seconds:"
        f" {len(again)} times, off by {shown.text('away', float(np.median(off)))} (median), the"
        f" last by {shown.text('altitude', off[-1])}; {inside:.0f} % had the place in their 90 %"
        " region."
    )
