"""Time of the event loop that is put forward by hand: a wait of minutes without waiting."""

import asyncio


class Leap:
    """Puts the running event loop's time forward. What is due by then comes at its next turn."""

    def __init__(self) -> None:
        self._ahead_s = 0.0
        loop = asyncio.get_running_loop()
        steady = loop.time
        loop.time = lambda: steady() + self._ahead_s  # type: ignore[method-assign]

    def by(self, seconds: float) -> None:
        self._ahead_s += seconds
