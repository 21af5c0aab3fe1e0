"""Stands for the pipeline: keeps the frames that a source gives."""

import asyncio
from collections.abc import Callable

from groundstation.records import Frame

WAIT_S = 240.0
"""How long a test waits before it takes a thing for never to come, on the slowest machine."""


class Keeper:
    """Keeps what comes; with ``gate`` it takes a frame only while that is set."""

    def __init__(self, *, gate: asyncio.Event | None = None) -> None:
        self.frames: list[Frame] = []
        self._gate = gate

    async def __call__(self, frame: Frame, stored: Callable[[], None] | None = None) -> None:
        self.frames.append(frame)
        if self._gate is not None:
            await self._gate.wait()
        if stored is not None:
            stored()

    @property
    def texts(self) -> list[str]:
        return [frame.data.decode() for frame in self.frames]


async def until(condition: Callable[[], bool], wait_s: float = WAIT_S) -> None:
    """Wait for ``condition``, and fail where it does not come about."""
    async with asyncio.timeout(wait_s):
        while not condition():  # noqa: ASYNC110 - any condition may be awaited
            await asyncio.sleep(0.01)
