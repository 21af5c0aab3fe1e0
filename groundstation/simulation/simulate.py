"""A simulated flight as a whole: the truth, and what was heard of it."""

from dataclasses import dataclass

from groundstation.simulation.flight import Truth, fly
from groundstation.simulation.randomness import Stream, stream
from groundstation.simulation.settings import SimulationSettings
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
    truth = fly(settings)
    rng = stream(settings.seed, Stream.TRACKER)
    return SimulatedFlight(
        settings=settings,
        truth=truth,
        heard=hear(rng, truth, settings.tracker, settings.receivers),
    )
