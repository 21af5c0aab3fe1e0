"""The part of a report that the payload's own log makes possible."""

from collections.abc import Iterator
from typing import Final

import numpy as np
from markupsafe import Markup

from groundstation.debrief.drawing import Drawing, span_of
from groundstation.debrief.figures import Error
from groundstation.debrief.own_log import OwnLog
from groundstation.html.templates import templates
from groundstation.language.catalogue import _
from groundstation.language.numbers import marked, number
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
    by = _("By the GPS heights") if clock.by == "gps" else _("By the pressure heights")
    yield _(
        "{rows} rows. {by}, beside {reached} of {fixes} fixes: its clock {goes}; known to ±"
        " {within} s in the middle of the flight. What is left is {off} (median).",
        rows=number(len(own.log)),
        by=by,
        reached=clock.reached,
        fixes=clock.fixes,
        goes=_goes(clock.offset_s, _signed(3_600.0 * clock.drift, 1)),
        within=number(max(clock.offset_sd_s, 0.5), 1),
        off=shown.text("altitude", clock.off_m),
    )
    if clock.reached < clock.fixes:
        yield _("Where the log does not reach, the drawings show the radio's fixes.")


def _signed(value: float, decimals: int) -> str:
    return marked(f"{value:+.{decimals}f}")


def _goes(offset_s: float, gains: str) -> str:
    """How its clock goes; ``gains`` are the seconds an hour."""
    whole = abs(offset_s)
    if whole > 86_400.0 * 3_650.0:
        # It counts from somewhere of its own.
        return _("gains {gains} s an hour", gains=gains)
    if whole < 0.5:
        return _("is right and gains {gains} s an hour", gains=gains)
    minutes, seconds = divmod(round(whole), 60)
    amount = _("{seconds} s", seconds=number(whole, 1))
    if minutes:
        amount = _("{minutes} min {seconds} s", minutes=minutes, seconds=seconds)
    if offset_s > 0.0:
        return _("is {amount} ahead and gains {gains} s an hour", amount=amount, gains=gains)
    return _("is {amount} behind and gains {gains} s an hour", amount=amount, gains=gains)


def _air_words(own: OwnLog, shown: Shown) -> Iterator[str]:
    off = ground_off_m(own.log, own.altitude_m)
    if off is not None:
        apart = shown.text("altitude", abs(off))
        yield (
            _(
                "On the ground the pressure stood for a height {apart} above the true one.",
                apart=apart,
            )
            if off > 0.0
            else _(
                "On the ground the pressure stood for a height {apart} below the true one.",
                apart=apart,
            )
        )
    air = own.air
    if air is None:
        return
    if air.by_pressure_m is not None:
        less = (air.by_pressure_m - air.height_m)[np.isfinite(air.by_pressure_m)]
        if len(less):
            yield _(
                "Pressure altitude less true height: {low} to {high} {unit} on the way up.",
                low=_signed(shown.value("altitude", less.min()), 0),
                high=_signed(shown.value("altitude", less.max()), 0),
                unit=shown.unit("altitude"),
            )
    made = hydrostatic_off_m(air)
    if made is not None:
        apart = shown.text("altitude", abs(made))
        yield (
            _(
                "Pressure and temperature together (hypsometric equation) end {apart} above the"
                " true height at the top.",
                apart=apart,
            )
            if made > 0.0
            else _(
                "Pressure and temperature together (hypsometric equation) end {apart} below the"
                " true height at the top.",
                apart=apart,
            )
        )
    if air.temperature_k is not None:
        yield (
            _("No tropopause is in the profile.")
            if air.tropopause_m is None
            else _(
                "Tropopause (WMO's definition): {height}.",
                height=shown.text("altitude", air.tropopause_m),
            )
        )
    for low, high in air.clouds:
        yield _(
            "Likely cloud from {low} to {high} (humidity of 90 % or more).",
            low=shown.number("altitude", low),
            high=shown.text("altitude", high),
        )
    fall = own.descent_rate_ms()
    if fall is not None:
        standard, met = fall
        yield _(
            "The rate of fall reduced to sea level: {standard} by the standard atmosphere, {met} by"
            " the air that was met ({percent} %).",
            standard=shown.text("fine_rate", standard),
            met=shown.text("fine_rate", met),
            percent=_signed(100.0 * (met / standard - 1.0), 1),
        )


def _air(air: Air, shown: Shown) -> Iterator[Markup]:
    heights, unit = shown.values("height", air.height_m), shown.unit("height")
    if air.temperature_k is not None:
        known = np.isfinite(air.temperature_k)
        measured = shown.degrees(air.temperature_k[known])
        standard = shown.degrees(temperature(air.height_m))
        drawing = Drawing(
            _("Temperature over height; the dashes are the standard atmosphere"),
            span_of(measured, standard), span_of(heights, [0.0]), shown.degrees_unit, unit,
        )  # fmt: skip
        drawing.line(standard, heights, "plan")
        drawing.line(measured, heights[known], "way")
        if air.tropopause_m is not None:
            top = shown.value("height", air.tropopause_m)
            drawing.line(drawing.x_range, [top, top], "mark")
            drawing.word(drawing.x_range[0], top, _("tropopause"))
        yield drawing.svg()
    if air.by_pressure_m is not None:
        known = np.isfinite(air.by_pressure_m)
        apart = shown.values("altitude", (air.by_pressure_m - air.height_m)[known])
        drawing = Drawing(
            _("Pressure altitude less true height"), span_of(apart, [0.0]),
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
            _(name), span_of(minutes[known]), span_of(values[known]), _("minutes after the launch"),
            height=200.0,
        )  # fmt: skip
        drawing.line(minutes[known], values[known], "way")
        yield drawing.svg()


def _again(again: list[Error], shown: Shown) -> Iterator[str]:
    if not again:
        return
    off = np.array([replayed.off_m for replayed in again])
    inside = 100.0 * sum(replayed.in_90 for replayed in again) / len(again)
    yield _(
        "Estimated again each minute, as if the log had been heard every ten seconds: {count}"
        " times, off by {off} (median), the last by {last}; {percent} % had the place in their"
        " 90 % region.",
        count=len(again),
        off=shown.text("away", float(np.median(off))),
        last=shown.text("altitude", off[-1]),
        percent=round(inside),
    )
