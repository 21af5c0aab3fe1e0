"""Try a source once, and say what was seen."""

import asyncio
from collections.abc import Callable
from typing import Any, Final

from groundstation.clock import Clock
from groundstation.decoders.build import build_decoder
from groundstation.decoders.carried import decoded
from groundstation.errors import SourceError
from groundstation.recordings.detection import read_recording
from groundstation.records import Frame, Report, Unreadable
from groundstation.sources.build import SourceSettings, build_source
from groundstation.sources.health import HealthRecorder
from groundstation.sources.recording_source import RecordingSettings

RAW_BYTES: Final = 160


class _Heard:
    """Keeps the first frame, and never says that it is stored: whoever sent it sends it again."""

    def __init__(self) -> None:
        self.first: asyncio.Future[Frame] = asyncio.get_running_loop().create_future()

    async def __call__(self, frame: Frame, stored: Callable[[], None] | None = None) -> None:  # noqa: ARG002
        if not self.first.done():
            self.first.set_result(frame)


async def probe(settings: SourceSettings, clock: Clock, wait_s: float) -> str:
    """Open the source, wait up to ``wait_s`` real seconds for a frame, and tell in a phrase.

    Raises ``SourceError`` or ``InputFileError`` where it can't be opened.
    """
    if isinstance(settings, RecordingSettings):
        recording = await asyncio.to_thread(read_recording, settings.path)
        return (
            f"a recording with {len(recording.frames)} packets, "
            f"from {', '.join(recording.trackers) or 'nobody named'}"
        )
    source, heard = build_source(settings, clock), _Heard()
    health = HealthRecorder(settings.name, settings.kind, clock)
    run = asyncio.create_task(source.run(heard, health))
    either: set[asyncio.Future[Any]] = {run, heard.first}
    try:
        await asyncio.wait(either, timeout=wait_s, return_when=asyncio.FIRST_COMPLETED)
        if heard.first.done():
            frame = heard.first.result()
            return f"connected; heard {_told(settings, frame)}\n        raw: {_raw(frame)}"
        if run.done():
            run.result()
        if not health.is_open:
            raise SourceError(f"could not be opened within {wait_s:.0f} s")
        return f"connected; nothing came in {wait_s:.0f} s, which may be as it should"
    finally:
        run.cancel()
        # What it ends with now is of no interest, but must have been asked for.
        await asyncio.gather(run, return_exceptions=True)


def _raw(frame: Frame) -> str:
    shown = repr(frame.data[:RAW_BYTES])[2:-1]
    return shown if len(frame.data) <= RAW_BYTES else f"{shown}…"


def _told(settings: SourceSettings, frame: Frame) -> str:
    assert settings.decoder is not None
    match decoded(build_decoder(settings.decoder), frame)[0]:
        case Report(time_unread=text) if text:
            raise SourceError(
                f"connected, but the time it sends can't be read: {text!r}; set time_format of its"
                f" decoder\n        raw: {_raw(frame)}"
            )
        case Report() as report:
            place = f"{report.latitude_deg:.5f}, {report.longitude_deg:.5f}"
            height = "" if report.altitude_m is None else f" at {report.altitude_m:.0f} m"
            return f"{report.tracker} {place}{height}"
        case Unreadable(reason=reason, detail=detail):
            return f"{len(frame.data)} bytes that are no position ({reason}): {detail}"
