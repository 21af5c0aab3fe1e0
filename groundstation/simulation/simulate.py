"""A simulated flight as a whole: the truth, and what was heard of it."""

from dataclasses import dataclass, replace

import numpy as np

from groundstation.simulation.flight import Truth, fly
from groundstation.simulation.randomness import Stream, stream
from groundstation.simulation.settings import SimulationSettings
from groundstation.simulation.stretches import drive, rest
from groundstation.simulation.tracker import Heard, Sent, hear


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedFlight:
    """``heard`` holds every copy in order of reception."""

    settings: SimulationSettings
    truth: Truth
    heard: tuple[Heard, ...]

    @property
    def fixes(self) -> tuple[Sent, ...]:
        """Each fix that was heard at least once, in order of its own time."""
        once = {copy.sent.number: copy.sent for copy in self.heard}
        return tuple(once[number] for number in sorted(once))


def simulate(settings: SimulationSettings) -> SimulatedFlight:
    """Fly and listen: same settings, same result. Pure."""
    truth = _brought(settings, fly(settings))
    rng = stream(settings.seed, Stream.TRACKER)
    return SimulatedFlight(
        settings=settings,
        truth=truth,
        heard=hear(rng, truth, settings.tracker, settings.receivers),
    )


def _brought(settings: SimulationSettings, truth: Truth) -> Truth:
    """The flight with the way to its site before it, where it was switched on at home."""
    if settings.home is None:
        return truth
    rng = stream(settings.seed, Stream.DRIVE)
    here = rest(rng, 0.0, settings.home, settings.home_s)
    way = drive(rng, settings.home_s, settings.home, settings.site)
    before_s = np.arange(here.time_utc.size + way.time_utc.size, 0.0, -1.0)
    parts = (here, way, truth)
    return replace(
        truth,
        time_utc=np.concatenate([truth.time_utc[0] - before_s, truth.time_utc]),
        latitude_deg=np.concatenate([part.latitude_deg for part in parts]),
        longitude_deg=np.concatenate([part.longitude_deg for part in parts]),
        altitude_m=np.concatenate([part.altitude_m for part in parts]),
    )
