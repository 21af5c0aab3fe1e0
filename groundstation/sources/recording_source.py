"""A recording as a source: each frame comes when the station's clock reaches its time."""

import asyncio
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from groundstation.clock import Clock
from groundstation.decoders.build import DecoderSettings
from groundstation.recordings.read_any import read_recording
from groundstation.sources.health import HealthRecorder
from groundstation.sources.source import Emit

LOOK_S = 0.2  # own choice: nobody sees a fifth of a second


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingSettings:
    """A recording in any form that the replay command takes. ``decoder`` is for packets whose
    comments are to be read; without it the recording's own is taken."""

    kind: Literal["recording"] = "recording"
    name: str
    path: Path
    decoder: DecoderSettings | None = None


class RecordingSource:
    def __init__(self, settings: RecordingSettings, clock: Clock) -> None:
        self.name = settings.name
        self._path = settings.path
        self._clock = clock

    async def run(self, emit: Emit, health: HealthRecorder) -> None:
        """Give all frames. Raises ``InputFileError`` for a file that can't be read."""
        health.awaited_utc = self._clock.now_utc()
        try:
            recording = await asyncio.to_thread(read_recording, self._path)
            health.opened()
            for frame in recording.frames:
                health.awaited_utc = frame.received_utc
                while (ahead_s := frame.received_utc - self._clock.now_utc()) > 0.0:
                    # The person may change the speed at any time, or hold it.
                    speed = self._clock.speed
                    await asyncio.sleep(min(ahead_s / speed, LOOK_S) if speed else LOOK_S)
                taken = replace(frame, source=self.name)
                health.received(taken)
                await emit(taken)
        finally:
            health.awaited_utc = None
