"""Lines or frames that another program appends to a file, through its rotations."""

import asyncio
import contextlib
import os
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Final, Literal

from groundstation.clock import Clock
from groundstation.decoders.build import DecoderSettings
from groundstation.errors import ConfigurationError, SourceError
from groundstation.records import Frame
from groundstation.sources.framers import framer_for
from groundstation.sources.health import HealthRecorder
from groundstation.sources.source import Emit

LOOK_S: Final = 0.25  # own choice: nobody sees a quarter of a second
READ_BYTES: Final = 65_536  # own choice: some hundred packets at a time
GONE_S: Final = 10.0
"""How long a file may be away, as in the middle of a rotation, before that is told. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FileSettings:
    """``path`` is a file that grows. What is in it when the station comes first is read too where
    ``from_begin`` is true; times in it should then be its own, since those of reception are now.
    """

    kind: Literal["file"] = "file"
    name: str
    path: Path
    decoder: DecoderSettings
    from_begin: bool = False


class FileSource:
    """Reads while it runs, and goes on after a failure from where it was. Raises
    ``ConfigurationError`` for settings that cannot work."""

    def __init__(self, settings: FileSettings, clock: Clock) -> None:
        if not str(settings.path):
            raise ConfigurationError("path is empty; name the file")
        self.name = settings.name
        self._settings = settings
        self._clock = clock
        self._framer = framer_for(settings.decoder)
        self._file: BinaryIO | None = None
        self._begun = settings.from_begin
        self._begins_anew = False

    async def run(self, emit: Emit, health: HealthRecorder) -> None:
        """Read what is appended. Raises ``SourceError`` where the file is not there for long."""
        path = self._settings.path
        loop = asyncio.get_running_loop()
        away_since: float | None = None
        try:
            while True:
                data, there = await asyncio.to_thread(self._more)
                if there and not health.is_open:
                    health.opened()
                away_since = None if there else away_since or loop.time()
                if away_since is not None and loop.time() - away_since >= GONE_S:
                    raise SourceError(
                        "{path} is not there; does the program that writes it run?", path=path
                    )
                received_utc = self._clock.now_utc()
                # What the old file did not end is no begin of the new one's first line.
                left = self._framer.flush() if self._begins_anew else []
                self._begins_anew = False
                for raw in (*left, *self._framer.feed(data)):
                    frame = Frame(
                        source=self.name, received_utc=received_utc, data=raw, receiver=str(path)
                    )
                    health.received(frame)
                    await emit(frame)
                if not data:
                    await asyncio.sleep(LOOK_S)
        except OSError as error:
            raise SourceError(
                "{path} can't be read: {why}", path=path, why=error.strerror
            ) from error

    def _more(self) -> tuple[bytes, bool]:
        """What was appended since, and whether the file is there."""
        if self._file is None and not self._opened():
            return b"", False
        assert self._file is not None
        data = self._file.read(READ_BYTES)
        if data:
            return data, True
        try:
            now = self._settings.path.stat()
        except FileNotFoundError:
            return b"", False
        mine = os.fstat(self._file.fileno())
        if (now.st_ino, now.st_dev) != (mine.st_ino, mine.st_dev):
            # Rotated: what was appended to the old one meanwhile is read first.
            data = self._file.read(READ_BYTES)
            if data:
                return data, True
            self._file.close()
            self._file, self._begun, self._begins_anew = None, True, True
            return b"", self._opened()
        if now.st_size < self._file.tell():
            self._file.seek(0)
            self._begins_anew = True
        return b"", True

    def _opened(self) -> bool:
        with contextlib.suppress(FileNotFoundError):
            self._file = self._settings.path.open("rb", buffering=0)
            if not self._begun:
                self._file.seek(0, os.SEEK_END)
            self._begun = True
            return True
        # Made later, it is new as a whole.
        self._begun = True
        return False
