"""What estimates free stays with the process, for the next one."""

import ctypes
from contextlib import suppress
from typing import Final

M_TRIM_THRESHOLD, M_MMAP_THRESHOLD = -1, -3  # malloc.h of glibc
KEPT_BYTES: Final = 32 << 20  # own choice: most of what an estimate has at once
LARGEST_BYTES: Final = 16 << 20  # own choice: more than any array of an estimate


def keep_freed() -> None:
    """Have glibc's malloc keep so much of what was freed; with another library nothing happens.

    Else it gives the arrays of each estimate back to the system, and the next one has all their
    pages mapped and cleared again, which takes a tenth of its time (mallopt(3)).
    """
    with suppress(AttributeError):
        mallopt = ctypes.CDLL(None).mallopt
        mallopt(M_MMAP_THRESHOLD, LARGEST_BYTES)
        mallopt(M_TRIM_THRESHOLD, KEPT_BYTES)
