"""The report desk: makes the report of a payload's newest flight from what the station keeps."""

import asyncio
import logging
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from groundstation.clock import Clock
from groundstation.config import StationSettings
from groundstation.errors import GroundstationError
from groundstation.flight.flights import Flights
from groundstation.language.catalogue import _, said
from groundstation.web.report_api import ReportState

log = logging.getLogger(__name__)

WriteReport = Callable[[StationSettings, Path, str, bool, Callable[[str], None]], tuple[Path, str]]
"""Writes the report of a payload's newest flight from a database; whether its lesson is kept, and
whom to tell each step. Gives the file, and the lesson or ""."""


class Reports:
    """One is made at a time for each payload, in a thread, by ``write``."""

    def __init__(
        self,
        settings: StationSettings,
        database: Path,
        flown: Flights,
        clock: Clock,
        write: WriteReport,
    ) -> None:
        self._write = write
        self._settings = settings
        self._database = database
        self._flights = flown
        self._clock = clock
        self._states: dict[str, ReportState] = {}
        self._files: dict[str, Path] = {}
        self._tasks: set[asyncio.Task[None]] = set()

    def state(self, payload: str) -> ReportState | None:
        if payload not in self._flights.payloads:
            return None
        return self._states.get(payload, ReportState())

    def file(self, payload: str) -> Path | None:
        return self._files.get(payload)

    def begin(self, payload: str, *, keep_lesson: bool) -> None:
        before = self._states.get(payload, ReportState())
        if before.step:
            return
        self._states[payload] = replace(before, step=_("waiting"), problem="")
        task = asyncio.create_task(self._make(payload, keep_lesson), name=f"report of {payload}")
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _make(self, payload: str, keep_lesson: bool) -> None:
        try:
            file, lesson = await asyncio.to_thread(self._write_it, payload, keep_lesson)
        except GroundstationError as error:
            self._change(payload, step="", problem=said(error.words))
            return
        except Exception:
            # Whatever it is, the station flies on, and the page must not wait for ever.
            log.exception("the report of %s failed", payload)
            self._change(payload, step="", problem=_("it failed; the station's log says why"))
            return
        self._files[payload] = file
        self._change(
            payload, step="", problem="", made_utc=self._clock.now_utc(), lesson=lesson,
            kept=keep_lesson and bool(lesson),
        )  # fmt: skip

    def _write_it(self, payload: str, keep_lesson: bool) -> tuple[Path, str]:
        return self._write(
            self._settings, self._database, payload, keep_lesson,
            lambda step: self._change(payload, step=step),
        )  # fmt: skip

    def _change(self, payload: str, **changes: object) -> None:
        self._states[payload] = replace(
            self._states.get(payload, ReportState()),
            **changes,  # type: ignore[arg-type]
        )
