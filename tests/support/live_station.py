"""The station as a process of its own, started as a person would."""

import asyncio
import json
import os
import signal
import sys
import time
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import aiohttp

from tests.support.mosquitto import free_port

START_LIMIT_S = 240.0
STOP_LIMIT_S = 240.0


class LiveStation:
    """``configuration`` is TOML without its [station] and [web]; all data are kept in ``folder``.

    ``inside`` stands before the command, and ``module`` is what is run. ``log`` is what it
    wrote on standard error, over all its starts.
    """

    def __init__(
        self,
        folder: Path,
        configuration: str,
        speed: float,
        inside: Sequence[str] = (),
        module: str = "groundstation",
        language: str = "en",
    ) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.database = folder / "data" / "rehearsal.db"
        self._port = free_port()
        self._speed = speed
        self._inside = inside
        self._module = module
        self._file = folder / "station.toml"
        self._file.write_text(
            f'[station]\nname = "base"\nlanguage = "{language}"\ndata_dir = "{folder}/data"\n'
            f"[web]\nport = {self._port}\n{configuration}"
        )
        self._log = folder / "station.log"
        self._out = folder / "station.out"
        self._process: asyncio.subprocess.Process | None = None
        self._utc = 0.0
        self._at_s = 0.0

    @property
    def pid(self) -> int | None:
        """Its process, or None while it does not run."""
        running = self._process is not None and self._process.returncode is None
        return self._process.pid if running and self._process is not None else None

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self._port}"

    @property
    def log(self) -> str:
        return self._log.read_text(errors="replace")

    def now_utc(self) -> float:
        """The station's own time, from when it was last asked."""
        return self._utc + self._speed * (time.monotonic() - self._at_s)

    async def start(self, as_if_utc: float | None, *, wait: bool = True) -> None:
        """Start it, without ``as_if_utc`` on the machine's clock; with ``wait``, until its page
        answers."""
        time_words: tuple[str, ...] = ()
        if as_if_utc is not None:
            speed = f"{self._speed:g}"
            time_words = ("--tell-targets", "--as-if", f"{as_if_utc:.3f}", "--speed", speed)
        name = "station.db" if as_if_utc is None else "rehearsal.db"
        self.database = self.database.with_name(name)
        with self._log.open("ab") as log, self._out.open("ab") as out:
            self._process = await asyncio.create_subprocess_exec(
                *self._inside,
                sys.executable, "-m", self._module, "run", "--config", str(self._file), *time_words,
                stdout=out, stderr=log, env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
            )  # fmt: skip
        if wait:
            async with asyncio.timeout(START_LIMIT_S):
                while await self._ask_time() is None:
                    assert self._process.returncode is None, self.log
                    await asyncio.sleep(0.05)

    async def state(self) -> dict[str, Any] | None:
        """What ``/api/state`` says, or None while nobody answers."""
        try:
            async with (
                aiohttp.ClientSession() as client,
                client.get(f"http://127.0.0.1:{self._port}/api/state") as answer,
            ):
                told: dict[str, Any] = json.loads(await answer.read())
                return told
        except aiohttp.ClientError:
            return None

    async def until(self, condition: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
        """Wait until what ``/api/state`` says meets ``condition``, and give that; fails where the
        station ends meanwhile. One answer that is late or lost tells nothing."""
        while True:
            told = await self.state()
            if told is not None and condition(told):
                return told
            assert self.pid is not None, self.log
            await asyncio.sleep(0.1)

    async def reached(self, phase: str) -> dict[str, Any]:
        """Wait until its first payload is in ``phase``; gives what is told of that."""
        told = await self.until(
            lambda told: bool(told["payloads"]) and told["payloads"][0]["phase"] == phase
        )
        one: dict[str, Any] = told["payloads"][0]
        return one

    async def kill(self) -> None:
        """End it as a power cut would."""
        if self._process is not None and self._process.returncode is None:
            self._process.kill()
            await self._process.wait()

    async def stop(self) -> int:
        """Ask it to stop; gives its exit code."""
        assert self._process is not None
        self._process.send_signal(signal.SIGTERM)
        async with asyncio.timeout(STOP_LIMIT_S):
            return await self._process.wait()

    async def _ask_time(self) -> float | None:
        asked_s = time.monotonic()
        told = await self.state()
        if told is None:
            return None
        self._at_s = (asked_s + time.monotonic()) / 2.0
        self._utc = datetime.fromisoformat(told["now"]).timestamp()
        return self._utc
