"""A real TCP server on loopback that sends what it is told to."""

import asyncio
import contextlib
from types import TracebackType
from typing import Self

from tests.support.keeper import WAIT_S


class LineServer:
    """Serves on ``port``, or on one that the system chooses. ``got`` is what clients sent."""

    def __init__(self, port: int = 0) -> None:
        self.port = port
        self.got = b""
        self._writers: list[asyncio.StreamWriter] = []
        self._arrived = asyncio.Event()
        self._server: asyncio.Server | None = None

    async def connected(self) -> None:
        """Wait for the first client."""
        async with asyncio.timeout(WAIT_S):
            await self._arrived.wait()

    async def send(self, data: bytes) -> None:
        """Send to every client."""
        for writer in self._writers:
            writer.write(data)
            with contextlib.suppress(ConnectionError):
                await writer.drain()

    def hang_up(self) -> None:
        """Close all connections, in order."""
        for writer in self._writers:
            writer.close()
        self._writers.clear()

    async def _client(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._writers.append(writer)
        self._arrived.set()
        with contextlib.suppress(ConnectionError):
            while data := await reader.read(65536):
                self.got += data
        writer.close()

    async def __aenter__(self) -> Self:
        self._server = await asyncio.start_server(self._client, "127.0.0.1", self.port)
        self.port = self._server.sockets[0].getsockname()[1]
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        assert self._server is not None
        self._server.close()
        self.hang_up()
        await self._server.wait_closed()
