"""On the morning: where each flight would land if it were launched at the time of its plan."""

import asyncio
import logging
import math
from typing import Final

from groundstation.clock import Clock
from groundstation.flight.flights import Flights
from groundstation.flight.if_launched import if_launched
from groundstation.flight.settings import FlightSettings
from groundstation.physics.wind import WindsAloft
from groundstation.records import Landing, Phase

log = logging.getLogger(__name__)

LOOK_S: Final = 20.0  # own choice, of real time: a new forecast is seen soon enough
STEP_S: Final = 600.0  # own choice: who is late is told of the next ten minutes
LATE_S: Final = 6 * 3_600.0  # own choice: later it is flown another day
EARLY_S: Final = 3 * 86_400.0  # own choice: forecasts of longer ago say little

_Made = tuple[float, WindsAloft | None, Landing | None]


class BeforeLaunch:
    """Of each payload that waits for its launch."""

    def __init__(self, flights: Flights, clock: Clock) -> None:
        self._flights = flights
        self._clock = clock
        self._made: dict[str, _Made] = {}

    def landing(self, payload: str) -> tuple[float, Landing] | None:
        """The launch that is asked about, and its landing; None where it flies or has flown, and
        where the plan names no site or no time."""
        if self._flights.state(payload).motion.phase is not Phase.PRELAUNCH:
            return None
        made = self._made.get(payload)
        if made is None or made[2] is None:
            return None
        return made[0], made[2]

    async def run(self) -> None:
        while True:
            for payload in self._flights.payloads:
                await self._look(payload)
            await asyncio.sleep(LOOK_S)

    async def _look(self, payload: str) -> None:
        settings = self._flights.settings(payload)
        now = self._clock.now_utc()
        launch = launch_at(settings, now)
        if launch is None or self._flights.state(payload).motion.phase is not Phase.PRELAUNCH:
            self._made.pop(payload, None)
            return
        made = self._made.get(payload)
        if made is not None and made[0] == launch and made[1] is settings.aloft:
            return
        try:
            landing = await asyncio.to_thread(if_launched, settings, launch, now)
        except Exception:
            log.exception("%s: where it would land could not be worked out", payload)
            landing = None
        self._made[payload] = launch, settings.aloft, landing


def launch_at(settings: FlightSettings, now_utc: float) -> float | None:
    """The launch that is asked about: that of the plan, or where it is late the next ten minutes;
    None where there is no plan of it, or it is of another day."""
    planned = settings.launch_utc
    if planned is None or settings.launch_site is None:
        return None
    if not planned - EARLY_S <= now_utc <= planned + LATE_S:
        return None
    return planned if now_utc <= planned else math.ceil(now_utc / STEP_S) * STEP_S
