"""A forecast of the invented day's winds, as a table that ``winds`` and a station read."""

import io
import math
from typing import Final

import numpy as np

from groundstation.simulation.forms.common import iso_utc
from groundstation.simulation.randomness import Stream, stream, wandering
from groundstation.simulation.simulate import SimulatedFlight

EVERY_M: Final = 500.0  # own choice: about what forecasts have
TOP_M: Final = 36_000.0  # own choice: above most bursts
OFF_MS: Final = 2.5  # see OFF_LENGTH_M
OFF_LENGTH_M: Final = 3_000.0
"""How far it is off a component, and over which heights: of the size that is published for
short-range forecasts of upper winds (from memory)."""


def forecast(flight: SimulatedFlight) -> bytes:
    """CSV of height, direction and speed; a column marks each line as invented.

    The winds are those that the ascent meets, with an error of its own.
    """
    z = np.arange(0.0, TOP_M + 1.0, EVERY_M)
    u, v = flight.truth.wind.at(z, 0.0)
    rng = stream(flight.settings.seed, Stream.FORECAST)
    u = u + wandering(rng, z.size, EVERY_M, OFF_LENGTH_M, OFF_MS)
    v = v + wandering(rng, z.size, EVERY_M, OFF_LENGTH_M, OFF_MS)
    valid = iso_utc(flight.truth.launch_utc)
    out = io.StringIO()
    out.write("valid,height_m,wind_from_deg,wind_speed_ms,made\n")
    for height, east, north in zip(z.tolist(), u.tolist(), v.tolist(), strict=True):
        come_from = math.degrees(math.atan2(-east, -north)) % 360.0
        speed = math.hypot(east, north)
        out.write(f"{valid},{height:.0f},{come_from:.0f},{speed:.1f},invented\n")
    return out.getvalue().encode()
