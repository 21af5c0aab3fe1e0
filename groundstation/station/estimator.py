"""Makes landing estimates in a thread, with fewer members where they would fall behind."""

import asyncio
import logging
from collections.abc import Awaitable, Callable
from dataclasses import replace
from typing import Final

from groundstation.clock import Clock
from groundstation.flight.estimate import estimate
from groundstation.flight.flights import Flights
from groundstation.records import Landing

log = logging.getLogger(__name__)

ROUND_S: Final = 4.0
"""Estimates of all payloads that are due should not take longer than this: own choice, below the
five seconds after which the next is due in a fall."""

FEWEST_MEMBERS: Final = 100  # own choice: with fewer, regions become rough


class Estimator:
    """Estimates from the newest state of each payload of ``flights``."""

    def __init__(self, flights: Flights, clock: Clock) -> None:
        self._flights = flights
        self._clock = clock
        self._share = 1.0
        self._wanted = asyncio.Event()

    def want(self) -> None:
        """An estimate would say something new."""
        self._wanted.set()

    async def run(self, put: Callable[[Landing], Awaitable[None]]) -> None:
        """Make those that are wanted, until cancelled, each from the newest state."""
        while True:
            await self._wanted.wait()
            self._wanted.clear()
            begun_s = self._clock.monotonic_s()
            for payload in self._flights.due():
                landing = await self.of(payload)
                if landing is not None:
                    await put(landing)
            self._share = share_after(self._share, self._clock.monotonic_s() - begun_s)

    async def of(self, payload: str) -> Landing | None:
        """The estimate; None where there can be none, or a fault of ours (which is logged)."""
        settings, state = self._flights.settings(payload), self._flights.state(payload)
        members = max(FEWEST_MEMBERS, round(settings.members * self._share))
        try:
            made = await asyncio.to_thread(estimate, replace(settings, members=members), state)
        except Exception:
            log.exception("no landing estimate for %s could be made", payload)
            made = None
        if made is None:
            self._flights.in_vain(state)
        return made


def share_after(share: float, round_s: float) -> float:
    """Which share of the members the next estimates get, after a round that took ``round_s``: fewer
    before they fall behind, and more again, step by step, where there is time."""
    if round_s > ROUND_S:
        return max(0.2, share * ROUND_S / round_s)
    return min(1.0, 1.2 * share) if round_s < 0.7 * ROUND_S else share
