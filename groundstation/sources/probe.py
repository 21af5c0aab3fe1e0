"""Try a source once, and say what was seen."""

import asyncio
from collections.abc import Callable
from contextlib import suppress
from typing import Final

from groundstation.clock import Clock
from groundstation.decoders.build import build_decoder
from groundstation.decoders.carried import decoded
from groundstation.errors import SourceError
from groundstation.recordings.read_any import read_recording
from groundstation.records import Frame, HeightReport, Read, Report, Unreadable
from groundstation.sources.build import SourceSettings, build_source
from groundstation.sources.health import HealthRecorder
from groundstation.sources.recording_source import RecordingSettings

RAW_BYTES: Final = 160  # own choice: two lines of a terminal


class _Heard:
    """Passes frames on, and never says that they are stored: whoever sent them does so again."""

    def __init__(self) -> None:
        self.frames: asyncio.Queue[Frame] = asyncio.Queue()

    async def __call__(self, frame: Frame, stored: Callable[[], None] | None = None) -> None:  # noqa: ARG002
        await self.frames.put(frame)


async def probe(
    settings: SourceSettings,
    clock: Clock,
    wait_s: float,
    is_ours: Callable[[str], bool] = lambda _tracker: True,
) -> str:
    """Open the source, listen up to ``wait_s`` real seconds for a position of a tracker that
    ``is_ours``, reading past greetings and comments, and tell in a phrase.

    Raises ``SourceError`` or ``InputFileError`` where it can't be opened, where what comes can't be
    read, and where positions came but only of others.
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
    seen = _Seen(settings, is_ours)
    try:
        with suppress(TimeoutError):
            async with asyncio.timeout(wait_s):
                while not seen.enough and not (run.done() and heard.frames.empty()):
                    frame = asyncio.create_task(heard.frames.get())
                    await asyncio.wait({run, frame}, return_when=asyncio.FIRST_COMPLETED)
                    if frame.done():
                        seen.take(frame.result())
                    else:
                        frame.cancel()
        if seen.first is None and run.done():
            run.result()
        if seen.first is None and not health.is_open:
            raise SourceError("could not be opened within {seconds} s", seconds=round(wait_s))
        return seen.summary(wait_s)
    finally:
        run.cancel()
        # What it ends with now is of no interest, but must have been asked for.
        await asyncio.gather(run, return_exceptions=True)


class _Seen:
    """What came so far. ``enough`` is there to be told."""

    def __init__(self, settings: SourceSettings, is_ours: Callable[[str], bool]) -> None:
        assert settings.decoder is not None
        self._decoder = build_decoder(settings.decoder)
        self._is_ours = is_ours
        self._others: dict[str, str] = {}
        self.first: tuple[Frame, str] | None = None
        self.enough = False

    def take(self, frame: Frame) -> None:
        for read in decoded(self._decoder, frame):
            words = _words(read, frame)
            ours = not isinstance(read, Unreadable) and self._is_ours(read.tracker)
            if not isinstance(read, Unreadable) and not ours:
                self._others.setdefault(read.tracker, words)
            if ours or self.first is None:
                self.first = frame, words
            self.enough = self.enough or ours

    def summary(self, wait_s: float) -> str:
        if self.first is None:
            return f"connected; nothing came in {wait_s:.0f} s, which may be as it should"
        frame, words = self.first
        if self.enough or not self._others:
            return f"connected; heard {words}\n        raw: {_raw(frame)}"
        name, words = next(iter(self._others.items()))
        more = f" and {len(self._others) - 1} others" if len(self._others) > 1 else ""
        strangers = (
            f"connected; in {wait_s:.0f} s nothing came from your trackers, but {words}{more}; if"
            " that is yours, add below its payload\n        [[payload.tracker]]\n"
            f'        id = "{name}"'
        )
        raise SourceError(strangers)


def _raw(frame: Frame) -> str:
    shown = repr(frame.data[:RAW_BYTES])[2:-1]
    return shown if len(frame.data) <= RAW_BYTES else f"{shown}…"


def _words(read: Read, frame: Frame) -> str:
    match read:
        case Report(time_unread=text) | HeightReport(time_unread=text) if text:
            unread = (
                f"connected, but the time it sends can't be read: {text!r}; set time_format of its"
                f" decoder\n        raw: {_raw(frame)}"
            )
            raise SourceError(unread)
        case Report():
            place = f"{read.latitude_deg:.5f}, {read.longitude_deg:.5f}"
            height = "" if read.altitude_m is None else f" at {read.altitude_m:.0f} m"
            return f"{read.tracker} {place}{height}"
        case HeightReport():
            level = "" if read.altitude_m is None else f" at {read.altitude_m:.0f} m"
            if read.pressure_pa is not None:
                level += f" at {read.pressure_pa / 100.0:.1f} hPa"
            return f"{read.tracker}{level}, without a place"
        case Unreadable(reason=reason, detail=detail):
            return f"{len(frame.data)} bytes that are no position ({reason}): {detail}"
