"""Reading from a connection that must not be silent for too long."""

import asyncio
from typing import Final

READ_BYTES: Final = 65_536  # own choice: some hundred packets at a time


async def heard(reader: asyncio.StreamReader, silence_s: float | None) -> bytes:
    """What comes next, ``b""`` at the end. Raises ``TimeoutError`` where nothing came for
    ``silence_s``.

    What had come by then counts, however late this machine gets to look at it: one that stood
    still for minutes must neither lose it nor take it for a silence, as ``asyncio.timeout`` would.
    """
    reading = asyncio.ensure_future(reader.read(READ_BYTES))
    try:
        await asyncio.wait({reading}, timeout=silence_s)
        if not reading.done():
            raise TimeoutError
        return reading.result()
    finally:
        reading.cancel()
