"""The station with a clock that can be made to jump: ``python -m benchmarks.jumping ...``.

The variable JUMPING names a file with one number, the seconds by which the machine's clock is
wrong. Nothing keeps it while it is.
"""

import os
import struct
import time
from pathlib import Path

from groundstation.cli import main
from groundstation.clock import JUMP_S, SystemClock

_FORM = "<d"
_true_time = time.time


def set_wrong_by(path: Path, seconds: float) -> None:
    """Let the clock of the station that looks at ``path`` be wrong by so much from now on."""
    new = path.with_suffix(".new")
    new.write_bytes(struct.pack(_FORM, seconds))
    new.replace(path)


def _wrong_by() -> float:
    (seconds,) = struct.unpack(_FORM, Path(os.environ["JUMPING"]).read_bytes())
    return float(seconds)


def _told_time() -> float:
    return _true_time() + _wrong_by()


def _is_kept(_clock: SystemClock) -> bool:
    return abs(_wrong_by()) < JUMP_S


if __name__ == "__main__":
    time.time = _told_time
    setattr(SystemClock, "is_kept", _is_kept)  # noqa: B010
    main()
