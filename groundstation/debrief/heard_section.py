"""What was heard, when and by what, and the battery."""

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from markupsafe import Markup

from groundstation.debrief.drawing import Drawing, span_of
from groundstation.debrief.figures import by_source
from groundstation.debrief.flights import FlightLog
from groundstation.debrief.silences import Silence
from groundstation.debrief.words import PLAIN, Telling
from groundstation.html.templates import templates

PIECE_S: Final = 300.0  # own choice: bars that still stand apart in a drawing of hours
LINES: Final = ("way", "other", "plan")


def heard_html(flight: FlightLog, silences: Sequence[Silence], telling: Telling = PLAIN) -> Markup:
    """Fixes over time and source, silences with what they likely were, the battery."""
    counted = by_source(flight)
    part = templates("groundstation.debrief").get_template("heard.html")
    return Markup(
        part.render(
            over_time=_over_time(flight, [name for name, _ in counted]),
            counted=counted,
            silences=silences,
            clock=telling.clock,
            height=lambda silence: _height(silence, telling),
            battery=_battery(flight),
        )
    )


def _height(silence: Silence, telling: Telling) -> str:
    height = silence.before.altitude_m
    return "" if height is None else telling.shown.text("altitude", height)


def _over_time(flight: FlightLog, names: list[str]) -> Iterator[Markup]:
    """A line each for the sources that brought most."""
    end = flight.landed_utc or flight.fixes[-1].time_utc
    edges = np.arange(0.0, end - flight.launch_utc + PIECE_S, PIECE_S)
    if len(edges) < 3:
        return
    middle = (edges[1:] + edges[:-1]) / 2.0 / 60.0
    lines = []
    for name in names[: len(LINES)]:
        at = [fix.time_utc - flight.launch_utc for fix in flight.fixes if fix.source == name]
        lines.append(np.histogram(at, edges)[0])
    said = ", ".join(
        f"{look}: {name}"
        for look, name in zip(("blue", "brown", "dashes"), names[: len(LINES)], strict=False)
    )
    drawing = Drawing(
        f"Fixes in each five minutes; {said}", span_of(middle, [0.0]), span_of(*lines, [0.0]),
        "minutes after the launch", "fixes", height=220.0,
    )  # fmt: skip
    for counted, kind in zip(lines, LINES, strict=False):
        drawing.line(middle, counted, kind)
    yield drawing.svg()


def _battery(flight: FlightLog) -> Markup:
    rows = [
        (fix.time_utc, value)
        for fix in flight.fixes
        for name, value in fix.telemetry
        if "batt" in name
    ]
    if len(rows) < 3:
        return Markup("")
    time, value = np.array(rows).T
    minutes = (time - flight.launch_utc) / 60.0
    drawing = Drawing(
        "Battery", span_of(minutes), span_of(value), "minutes after the launch", "V", height=200.0
    )
    drawing.line(minutes, value, "way")
    return drawing.svg()
