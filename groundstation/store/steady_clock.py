"""Real time that never jumps while the program runs."""

import time
from typing import Final

_BEGAN_UTC: Final = time.time()
_BEGAN_S: Final = time.monotonic()


def steady_utc() -> float:
    """Seconds since 1970-01-01T00:00:00Z as the machine's clock stood at the start, plus what
    has really passed since.

    A small computer without a clock battery starts in the past and jumps forward once it has a
    network. A message that waited for that network must not look days old, and so expired.
    """
    return _BEGAN_UTC + (time.monotonic() - _BEGAN_S)
