"""Keeps the forecast fresh: a running station asks for a new one, where the person lets it."""

import asyncio
import logging
from collections.abc import Callable
from typing import Final

from groundstation.clock import Clock
from groundstation.config import StationSettings, site_of, winds_of
from groundstation.errors import GroundstationError
from groundstation.flight.flights import Flights
from groundstation.language.catalogue import _, said
from groundstation.prepare.forecast import asked_of, fetched
from groundstation.prepare.record import fetched_from, keep
from groundstation.prepare.region import Region
from groundstation.prepare.services import ENSEMBLE, FORECAST
from groundstation.records import Phase
from groundstation.weather.profile_file import profile_text

log = logging.getLogger(__name__)

LOOK_S: Final = 60.0  # own choice: intervals are half an hour at least
AHEAD_S: Final = 6 * 3_600.0  # own choice: of the longest usual flight
BEFORE_S: Final = 12 * 3_600.0  # own choice: two runs of a model before the launch
ALOFT: Final = (Phase.ASCENT, Phase.FLOAT, Phase.DESCENT)


class ForecastKeeper:
    """Asks from twelve hours before the launch of a flight file until the landing, and in any
    flight; never else, and never oftener than it is set."""

    def __init__(
        self,
        settings: StationSettings,
        flights: Flights,
        clock: Clock,
        trouble: Callable[[str], None] = lambda _text: None,
    ) -> None:
        """``trouble`` is told in a sentence why there is no new forecast, and "" once there is."""
        self._settings = settings
        self._flights = flights
        self._clock = clock
        self._trouble = trouble
        self._asked_s: float | None = None

    async def run(self) -> None:
        every_s = self._settings.prepare.forecast_every_s
        if every_s is None or self._settings.landing.winds is not None:
            return
        while True:
            now_s = self._clock.monotonic_s()
            if self._is_wanted() and (self._asked_s is None or now_s - self._asked_s >= every_s):
                self._asked_s = now_s
                await self.refresh()
            await asyncio.sleep(LOOK_S)

    async def refresh(self) -> None:
        """Fetch one now and give it to the flights; a failure is told in the log, and what was
        there stays."""
        try:
            await asyncio.to_thread(self._fetch)
            launched = {
                name: self._flights.state(name).motion.launch for name in self._flights.payloads
            }
            winds = await asyncio.to_thread(
                winds_of, self._settings, self._clock.now_utc(), launched
            )
        except (GroundstationError, OSError) as error:
            log.warning("no new forecast: %s; the one there is goes on to be used", error)
            self._trouble(
                _(
                    "There is no new forecast of the winds: {trouble}. What there is goes on to be"
                    " used; it is asked for again by itself.",
                    trouble=said(error.words) if isinstance(error, GroundstationError) else error,
                )
            )
            return
        self._trouble("")
        for payload, aloft in winds.items():
            self._flights.put_winds(payload, aloft)
            log.info("%s: %s", payload, "no winds" if aloft is None else aloft.name)

    def _is_wanted(self) -> bool:
        now = self._clock.now_utc()
        for name in self._flights.payloads:
            launch_utc = self._flights.settings(name).launch_utc
            if self._flights.state(name).motion.phase in ALOFT:
                return True
            if launch_utc is not None and -AHEAD_S < launch_utc - now < BEFORE_S:
                return True
        return False

    def _fetch(self) -> None:
        settings, now = self._settings, self._clock.now_utc()
        launches = (
            self._flights.settings(name).launch_utc or now for name in self._flights.payloads
        )
        end = max([now, *launches]) + AHEAD_S
        lat, lon = self._place()
        region = Region(latitude_deg=lat, longitude_deg=lon, radius_m=settings.prepare.radius_m)
        tables = fetched(asked_of(settings.prepare), region, now, end)
        path = settings.station.prepared.forecast
        path.parent.mkdir(parents=True, exist_ok=True)
        new = path.with_suffix(".new")
        new.write_text(profile_text(tables), encoding="utf-8")
        new.replace(path)
        asked = asked_of(settings.prepare)
        who = ENSEMBLE if asked.ensemble else FORECAST
        record = fetched_from(
            "forecast", who, asked.address, region, size_bytes=path.stat().st_size,
            fetched_utc=now, made_utc=tables[0].issued_utc,
        )  # fmt: skip
        keep(settings.station.prepared.root, record)

    def _place(self) -> tuple[float, float]:
        """Where something flies, else where it will be launched, else base. Raises
        ``GroundstationError``."""
        for name in self._flights.payloads:
            launch = self._flights.state(name).motion.launch
            if launch is not None:
                return launch.latitude_deg, launch.longitude_deg
        return site_of(self._settings)
