"""What the machine can tell of itself, from the system's own files (proc(5))."""

import os
from pathlib import Path


def free_bytes(folder: Path) -> int | None:
    """Room for us on the disk of ``folder``; None where that can't be known."""
    try:
        disk = os.statvfs(folder)
    except OSError:
        return None
    return disk.f_bavail * disk.f_frsize


def resident_bytes() -> int | None:
    """Memory that this process has in use."""
    pages = _word(Path("/proc/self/statm"), 1)
    return None if pages is None else pages * os.sysconf("SC_PAGE_SIZE")


def written_bytes() -> int | None:
    """What this process had written to disks since its start."""
    try:
        lines = Path("/proc/self/io").read_text().splitlines()
        return next(int(line.split()[1]) for line in lines if line.startswith("write_bytes"))
    except (OSError, ValueError, StopIteration):
        return None


def _word(path: Path, number: int) -> int | None:
    try:
        return int(path.read_text().split()[number])
    except (OSError, ValueError, IndexError):
        return None
