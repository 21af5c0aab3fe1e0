"""What was heard, when and by what, and what was measured."""

from collections import Counter, defaultdict
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
from groundstation.language.catalogue import N_, _
from groundstation.language.numbers import number
from groundstation.units import CELSIUS_ZERO_K

PIECE_S: Final = 300.0  # own choice: bars that still stand apart in a drawing of hours
FEWEST_ROWS: Final = 3  # own choice: fewer are no line
MOST_MEASURED: Final = 12  # own choice: more drawings than this nobody looks at
UNITS: Final = {
    "v": "V", "mv": "mV", "a": "A", "ma": "mA", "c": "°C", "hpa": "hPa", "percent": "%",
    "dbm": "dBm", "db": "dB", "ms": "m/s", "m": "m", "s": "s", "mm": "mm", "wm2": "W/m²",
}  # fmt: skip
"""What a name ends with, and the unit as it is read."""

LINES: Final = ("way", "other", "plan")
LOOKS: Final = (N_("blue"), N_("brown"), N_("dashes"))
NAMES: Final = {
    "battery": N_("battery"), "temperature": N_("temperature"), "humidity": N_("humidity"),
    "pressure": N_("pressure"), "satellites": N_("satellites"), "speed": N_("speed"),
}  # fmt: skip
"""What is usually measured, as it is read; what else there is keeps its name."""


def heard_html(flight: FlightLog, silences: Sequence[Silence], telling: Telling = PLAIN) -> Markup:
    """Fixes over time and source, silences with what they likely were, what was measured."""
    counted = by_source(flight)
    part = templates("groundstation.debrief").get_template("heard.html")
    return Markup(
        part.render(
            over_time=_over_time(flight, [name for name, _ in counted]),
            counted=counted,
            silences=silences,
            clock=telling.clock,
            number=number,
            minutes=lambda span_s: telling.shown.text("minutes", span_s),
            height=lambda silence: _height(silence, telling),
            measured=list(_measured(flight, telling)),
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
        f"{_(look)}: {name}" for look, name in zip(LOOKS, names[: len(LINES)], strict=False)
    )
    drawing = Drawing(
        _("Fixes in each five minutes; {lines}", lines=said),
        span_of(middle, [0.0]), span_of(*lines, [0.0]),
        _("minutes after the launch"), _("fixes"), height=220.0,
    )  # fmt: skip
    for counted, kind in zip(lines, LINES, strict=False):
        drawing.line(middle, counted, kind)
    yield drawing.svg()


def _measured(flight: FlightLog, telling: Telling) -> Iterator[Markup]:
    """Each thing that was measured, over time; of several trackers that tell it each its own."""
    found: dict[tuple[str, str], list[tuple[float, float]]] = defaultdict(list)
    for fix in flight.fixes:
        for name, value in fix.telemetry:
            found[name, fix.tracker].append((fix.time_utc, value))
    trackers = Counter(name for name, _ in found)
    fullest = sorted(found, key=lambda measured: -len(found[measured]))[:MOST_MEASURED]
    for name, tracker in sorted(fullest):
        rows = found[name, tracker]
        if len(rows) < FEWEST_ROWS:
            continue
        time, values = np.array(sorted(rows)).T
        plain, _line, ending = name.rpartition("_")
        title, unit = (plain, UNITS[ending]) if plain and ending in UNITS else (name, "")
        if unit == "°C":
            values = telling.shown.degrees(values + CELSIUS_ZERO_K)
            unit = telling.shown.degrees_unit
        what = NAMES.get(title, title).replace("_", " ")
        what = _(what).capitalize()
        minutes = (time - flight.launch_utc) / 60.0
        drawing = Drawing(
            _("{what} of {tracker}", what=what, tracker=tracker) if trackers[name] > 1 else what,
            span_of(minutes), span_of(values), _("minutes after the launch"), unit, height=200.0,
        )  # fmt: skip
        drawing.line(minutes, values, "way")
        yield drawing.svg()
