"""Lines or frames that a program writes on its standard output; the station runs it."""

import asyncio
import contextlib
import os
import shutil
import signal
from collections import deque
from dataclasses import dataclass
from typing import Final, Literal

from groundstation.clock import Clock
from groundstation.decoders.build import DecoderSettings
from groundstation.errors import ConfigurationError, SourceError
from groundstation.records import Frame
from groundstation.sources.framers import framer_for
from groundstation.sources.health import HealthRecorder
from groundstation.sources.source import Emit

READ_BYTES: Final = 65_536  # a pipe's usual size, pipe(7)
GOODBYE_S: Final = 3.0
"""How long a program may take to end when it is asked to. Own choice."""

_SAID: Final = 5  # own choice: the last lines say why a program ended


@dataclass(frozen=True, slots=True, kw_only=True)
class CommandSettings:
    """``command`` is the program and its arguments, each a text of its own; no shell sees them.

    It is started again when it ends. What it writes on standard error is told when it fails.
    """

    kind: Literal["command"] = "command"
    name: str
    command: tuple[str, ...]
    decoder: DecoderSettings


class CommandSource:
    """One run of the program a ``run``. Raises ``ConfigurationError`` for settings that cannot
    work."""

    def __init__(self, settings: CommandSettings, clock: Clock) -> None:
        if not settings.command or not settings.command[0]:
            raise ConfigurationError("command is empty; name the program and its arguments")
        framer_for(settings.decoder)
        self.name = settings.name
        self._settings = settings
        self._clock = clock

    async def run(self, emit: Emit, health: HealthRecorder) -> None:
        """Read until the program ends. Raises ``SourceError``, saying how it ended."""
        program, *arguments = self._settings.command
        if await asyncio.to_thread(shutil.which, program) is None:
            raise SourceError(
                "{program} is not a program that is here; install it, or name its path",
                program=program,
            )
        # Programs that print into a pipe keep lines back; Python ones don't with this.
        env = {**os.environ, "PYTHONUNBUFFERED": "1"}
        try:
            child = await asyncio.create_subprocess_exec(
                program, *arguments, env=env, start_new_session=True,
                stdin=asyncio.subprocess.DEVNULL,
                stdout=asyncio.subprocess.PIPE, stderr=asyncio.subprocess.PIPE,
            )  # fmt: skip
        except OSError as error:
            raise SourceError(
                "{program} can't be started ({why})", program=program, why=error.strerror
            ) from error
        said: deque[str] = deque(maxlen=_SAID)
        assert child.stdout is not None
        assert child.stderr is not None
        listening = asyncio.create_task(_drained(child.stderr, said))
        try:
            health.opened()
            framer = framer_for(self._settings.decoder)
            while data := await child.stdout.read(READ_BYTES):
                await self._pass(framer.feed(data), program, emit, health)
            await self._pass(framer.flush(), program, emit, health)
            code = await child.wait()
        finally:
            await _ended(child)
            listening.cancel()
            await asyncio.gather(listening, return_exceptions=True)
        if said:
            raise SourceError(
                "{program} ended with {code}: {said}", program=program, code=code, said=said[-1]
            )
        raise SourceError("{program} ended with {code}", program=program, code=code)

    async def _pass(
        self, frames: list[bytes], program: str, emit: Emit, health: HealthRecorder
    ) -> None:
        received_utc = self._clock.now_utc()
        for data in frames:
            frame = Frame(source=self.name, received_utc=received_utc, data=data, receiver=program)
            health.received(frame)
            await emit(frame)


async def _drained(stream: asyncio.StreamReader, said: deque[str]) -> None:
    """Read standard error: a pipe that nobody reads stops the program at 64 kB."""
    while data := await stream.read(4096):
        lines = data.decode("utf-8", "replace").splitlines()
        said.extend(line.strip()[:200] for line in lines if line.strip())


async def _ended(child: asyncio.subprocess.Process) -> None:
    """End the program with all that it started: they are one group."""
    for number in (signal.SIGTERM, signal.SIGKILL):
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(child.pid, number)
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(GOODBYE_S):
                await child.wait()
                # Whoever it started may be left, and is in its group still.
                if number is signal.SIGTERM:
                    continue
                return
