"""A serial port that can be pulled out: a pseudo-terminal behind a link of a fixed name."""

import asyncio
import os
import pty
import tty
from pathlib import Path

from tests.support.keeper import WAIT_S


class PtyDevice:
    """``link`` is what a station opens, as a name under ``/dev/serial/by-id`` would be."""

    def __init__(self, link: Path) -> None:
        self.link = link
        self._ends: tuple[int, int] | None = None

    def plug_in(self) -> None:
        ours, theirs = pty.openpty()
        tty.setraw(theirs)
        self._ends = (ours, theirs)
        self.link.symlink_to(os.ttyname(theirs))

    def send(self, data: bytes) -> None:
        """Write all of ``data``; blocks while the other side does not read."""
        assert self._ends is not None
        while data:
            data = data[os.write(self._ends[0], data) :]

    def received(self, count: int) -> bytes:
        """What the other side wrote; waits for so many bytes."""
        assert self._ends is not None
        data = b""
        while len(data) < count:
            data += os.read(self._ends[0], count - len(data))
        return data

    def offer(self, data: bytes) -> bool:
        """Write ``data`` unless nobody reads and there is no room; says whether it went out."""
        assert self._ends is not None
        ours, _ = self._ends
        os.set_blocking(ours, False)
        try:
            return os.write(ours, data) == len(data)
        except BlockingIOError:
            return False
        finally:
            os.set_blocking(ours, True)

    async def put(self, data: bytes) -> None:
        """Write all of ``data``, and wait for room as long as it takes."""
        assert self._ends is not None
        ours, _ = self._ends
        os.set_blocking(ours, False)
        async with asyncio.timeout(WAIT_S):
            while data:
                try:
                    data = data[os.write(ours, data) :]
                except BlockingIOError:
                    await asyncio.sleep(0.01)
        os.set_blocking(ours, True)

    def pull_out(self) -> None:
        if self._ends is not None:
            self.link.unlink()
            for end in self._ends:
                os.close(end)
            self._ends = None
