"""What is told of a launch and a burst that no height shows: by the chances of the estimate."""

from dataclasses import replace
from typing import Final

from groundstation.flight.alert_records import Alert, Burst, Launched
from groundstation.flight.alerts import raised
from groundstation.flight.settings import FlightSettings
from groundstation.flight.state import FlightState
from groundstation.records import Phase

PROBABLY: Final = 2.0 / 3.0  # own choice: below, what moves is as likely driven


def launched(settings: FlightSettings, state: FlightState) -> tuple[FlightState, tuple[Alert, ...]]:
    """Told with the likely time, which takes an estimate, where no height shows the launch. That it
    is likely is told only where something says that it is the day of a flight."""
    landing = state.landing
    launch = None if landing is None or landing.progress is None else landing.progress.launch_utc
    if launch is None:
        return state, ()
    facts, motion = Launched(ago_s=max(state.now_utc - launch, 0.0), landing=landing), state.motion
    if motion.phase is Phase.ASCENT:
        return raised(state, facts, f"{motion.since_utc:.0f}")
    if motion.phase is not Phase.PRELAUNCH or motion.maybe is None:
        return state, ()
    if motion.maybe_chance < PROBABLY or not settings.flight_due:
        return state, ()
    facts = replace(facts, chance=motion.maybe_chance)
    return raised(state, facts, f"probably {motion.maybe.time_utc:.0f}")


def burst(settings: FlightSettings, state: FlightState) -> tuple[FlightState, tuple[Alert, ...]]:
    """A burst that the chances tell, with the span of when."""
    landing = state.landing
    if landing is None or landing.progress is None or landing.progress.burst_90_utc is None:
        return state, ()
    early, late = landing.progress.burst_90_utc
    facts = Burst(
        altitude_m=None,
        planned_m=settings.plan.burst_altitude_m if settings.plan.made else None,
        chance=landing.progress.chance.burst,
        ago_90_s=(max(state.now_utc - early, 0.0), max(state.now_utc - late, 0.0)),
        landing=landing,
    )
    return raised(state, facts)
