"""Write a simulated flight in a form, with a header that marks it as invented."""

import json
from collections.abc import Callable
from typing import Final

from groundstation.simulation.forms.aprs import kiss, packets
from groundstation.simulation.forms.common import iso_utc
from groundstation.simulation.forms.form import INVENTED, Form
from groundstation.simulation.forms.nmea import nmea
from groundstation.simulation.forms.tables import delimited, json_lines, track
from groundstation.simulation.simulate import SimulatedFlight

_WRITERS: Final[dict[Form, Callable[[SimulatedFlight, tuple[str, ...]], bytes]]] = {
    Form.TRACK: track,
    Form.PACKETS: packets,
    Form.JSON: json_lines,
    Form.NMEA: nmea,
    Form.DELIMITED: delimited,
    Form.KISS: kiss,
}


def write(flight: SimulatedFlight, form: Form, lines: tuple[str, ...] = ()) -> bytes:
    """The flight as bytes. ``lines`` go into the header, before the one that says invented."""
    return _WRITERS[form](flight, (*lines, INVENTED))


def write_truth(flight: SimulatedFlight) -> bytes:
    """What really happened, as one JSON object on several lines."""
    truth = flight.truth
    lat, lon = truth.landing
    fields = {
        "invented": True,
        "launch": iso_utc(truth.launch_utc),
        "top": iso_utc(truth.top_utc),
        "top_m": round(truth.top_m, 1),
        "float": None if truth.float_utc is None else [iso_utc(t) for t in truth.float_utc],
        "touchdown": iso_utc(truth.touchdown_utc),
        "lat": round(lat, 6),
        "lon": round(lon, 6),
        "ground_m": round(truth.ground_m, 1),
        "descent_rate_ms": round(truth.descent_rate_ms, 2),
        "wind_change_ms": round(truth.wind.change_sd_ms, 2),
        "fixes_heard": len(flight.fixes),
        "copies_heard": len(flight.heard),
    }
    return (json.dumps(fields, indent=2) + "\n").encode()
