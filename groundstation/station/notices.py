"""The station watches itself, and lets others watch it.

It tells what is wrong with it, once, and when it is well again; it says at intervals that it is up,
so that its own silence is noticed; and it asks a given address at intervals as long as it works: a
dead man's switch, whose keeper raises the alarm when it stays away.
"""

import asyncio
import logging
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import Final

import aiohttp

from groundstation.alerts.base_watch import WatchSettings
from groundstation.clock import Clock
from groundstation.flight.alert_records import Alert, AlertKey, StationNotice
from groundstation.language.catalogue import _
from groundstation.records import AlertKind, Phase, Urgency
from groundstation.station.overview import Overview
from groundstation.station.problems import Problem

log = logging.getLogger(__name__)

LOOK_S: Final = 2.0  # own choice: seconds of delay matter to nobody
URGENT_AFTER_S: Final = 10.0  # own choice: a disk may hesitate, and a cable be put in again
STALLED_S: Final = 30.0  # own choice: several times the longest batch on a slow board
ANSWER_S: Final = 20.0  # own choice: a slow mobile link
UP_ONCE_S: Final = 3_600.0  # own choice: see _tell_up

Say = Callable[[Alert], Awaitable[None]]


@dataclass(slots=True)
class _Seen:
    """A problem, since when (monotonic), and whether it was told."""

    problem: Problem
    since_s: float
    announced: bool = False


class Notices:
    """``say`` brings an alert on its way; ``station`` is the station's name."""

    def __init__(
        self, settings: WatchSettings, station: str, clock: Clock, overview: Overview, say: Say
    ) -> None:
        self._settings = settings
        self._station = station
        self._clock = clock
        self._overview = overview
        self._say = say
        self._seen: dict[str, _Seen] = {}

    async def run(self) -> None:
        """Watch until cancelled."""
        async with asyncio.TaskGroup() as tasks:
            tasks.create_task(self._watch(), name="problems")
            if self._settings.up_every_s is not None:
                tasks.create_task(self._tell_up(self._settings.up_every_s), name="up")
            if self._settings.heartbeat_url is not None:
                tasks.create_task(self._beat(self._settings.heartbeat_url.reveal()), name="beat")

    async def _watch(self) -> None:
        while True:
            await asyncio.sleep(LOOK_S)
            await self.look()

    async def look(self) -> None:
        """Tell what has been wrong for long enough, and what was and is well again."""
        now = self._clock.monotonic_s()
        problems = {problem.name: problem for problem in self._overview.problems()}
        for name in [name for name in self._seen if name not in problems]:
            if self._seen.pop(name).announced:
                await self._tell(_("well again: {what}", what=name), "")
        for name, problem in problems.items():
            seen = self._seen.setdefault(name, _Seen(problem, now))
            patience_s = URGENT_AFTER_S if problem.urgent else self._settings.trouble_after_s
            if not seen.announced and now - seen.since_s >= patience_s:
                seen.announced = True
                urgency = Urgency.HIGH if problem.urgent else Urgency.NORMAL
                await self._tell(_("needs you: {what}", what=name), problem.text, urgency)

    async def _tell_up(self, every_s: float) -> None:
        while True:
            problems = self._overview.problems()
            text = "\n".join(problem.text for problem in problems) or _("All is well.")
            # Of one hour once: a station that falls over again and again must not flood the phone.
            hour = f"{self._clock.now_utc() // UP_ONCE_S:.0f}"
            await self._tell(
                _("base is up"),
                text,
                Urgency.QUIET,
                useful_s=every_s,
                occasion=hour,
                thread="up",
            )
            await asyncio.sleep(every_s)

    async def _beat(self, url: str) -> None:
        timeout = aiohttp.ClientTimeout(total=ANSWER_S)
        async with aiohttp.ClientSession(timeout=timeout) as client:
            while True:
                if self._overview.still_s() < STALLED_S:
                    try:
                        async with client.get(url) as answer:
                            if answer.status >= 400:
                                log.warning("the heartbeat was answered %d", answer.status)
                    except (aiohttp.ClientError, OSError, TimeoutError) as error:
                        # Its text may hold the address, which is a secret.
                        log.warning("the heartbeat was not taken (%s)", type(error).__name__)
                await asyncio.sleep(self._settings.heartbeat_every_s)

    async def _tell(
        self,
        what: str,
        more: str,
        urgency: Urgency = Urgency.NORMAL,
        useful_s: float = 6 * 3600.0,
        occasion: str = "",
        thread: str = "",
    ) -> None:
        now = self._clock.now_utc()
        await self._say(
            Alert(
                key=AlertKey(
                    payload=self._station,
                    begun_utc=None,
                    kind=AlertKind.STATION,
                    occasion=f"{what}, {occasion or f'{now:.3f}'}",
                ),
                time_utc=now,
                phase=Phase.PRELAUNCH,
                facts=StationNotice(what=what, more=more),
                urgency=urgency,
                thread=thread,
                useful_for_s=useful_s,
            )
        )
