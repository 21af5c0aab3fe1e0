"""How far a flight is, where its fixes have heights, and what chances say of its phase."""

from dataclasses import replace
from typing import Final

from groundstation.flight.phases import looks_falling
from groundstation.flight.state import FlightState, Motion
from groundstation.records import Fix, Landing, Phase, PhaseChances, Progress

HEIGHT_SD_M: Final = 15.0
"""Of a receiver's height in the open (own choice, of the size that makers state)."""
DOUBT: Final = 0.1
"""That the first fix of a fall is none (own choice)."""
TOLD_FROM: Final = 0.9
"""A phase is told from this chance on; below it is "probably"."""


def from_fix(state: FlightState, last: Fix) -> Progress:
    """With the newest fix telling the height: the phase is known, but for a fall's first fix."""
    share = {state.motion.phase: 1.0}
    if state.motion.phase is not Phase.DESCENT and looks_falling(state.motion):
        share = {state.motion.phase: DOUBT, Phase.DESCENT: 1.0 - DOUBT}
    return Progress(
        chance=_chances(share),
        height_m=last.altitude_m,
        height_90_m=_ninety(last.altitude_m, HEIGHT_SD_M),
    )


def resting(height_m: float | None, sd_m: float = HEIGHT_SD_M) -> Progress:
    """Of what has landed."""
    return Progress(
        chance=PhaseChances(landed=1.0), height_m=height_m, height_90_m=_ninety(height_m, sd_m)
    )


def _ninety(height_m: float | None, sd_m: float) -> tuple[float, float] | None:
    """Nine tenths of a normal distribution."""
    off = 1.645 * sd_m
    return None if height_m is None else (height_m - off, height_m + off)


def as_chances_say(motion: Motion, landing: Landing) -> Motion:
    """The motion with the phase that the chances of an estimate tell, where no height does.

    That it is down is told by nothing but a place where it stays.
    """
    progress = landing.progress
    if progress is None or progress.burst_90_utc is None:
        return motion
    chance = progress.chance
    begun = sum(progress.burst_90_utc) / 2.0
    match motion.phase:
        case Phase.ASCENT | Phase.FLOAT if chance.burst >= TOLD_FROM:
            return replace(motion, phase=Phase.DESCENT, since_utc=begun)
        case Phase.DESCENT if chance.ascent + chance.floating >= TOLD_FROM:
            began = motion.launch.time_utc if motion.launch else motion.since_utc
            return replace(motion, phase=Phase.ASCENT, since_utc=began)
        case _:
            return motion


def _chances(share: dict[Phase, float]) -> PhaseChances:
    return PhaseChances(
        ascent=share.get(Phase.ASCENT, 0.0) + share.get(Phase.PRELAUNCH, 0.0),
        floating=share.get(Phase.FLOAT, 0.0),
        descent=share.get(Phase.DESCENT, 0.0),
        landed=share.get(Phase.LANDED, 0.0),
    )
