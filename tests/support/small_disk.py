"""A real file system of its own, small enough to be filled, that can be made read-only."""

import os
import subprocess
from pathlib import Path
from types import TracebackType
from typing import Self

import pytest


class SmallDisk:
    """``megabytes`` at ``folder``. Skips the test where it can't be mounted, and fails it where the
    variable CI is set."""

    def __init__(self, folder: Path, megabytes: int = 4) -> None:
        self.folder = folder
        self._size = megabytes
        folder.mkdir(parents=True, exist_ok=True)

    def fill(self) -> None:
        """Leave no room at all."""
        with (self.folder / "filler").open("wb", buffering=0) as file:
            for size in (1 << 16, 1 << 12, 1):
                try:
                    while True:
                        file.write(bytes(size))
                except OSError:
                    continue

    def make_room(self) -> None:
        (self.folder / "filler").unlink()

    def read_only(self) -> None:
        subprocess.run(["mount", "-o", "remount,ro", str(self.folder)], check=True)

    def writable(self) -> None:
        subprocess.run(["mount", "-o", "remount,rw", str(self.folder)], check=True)

    def __enter__(self) -> Self:
        done = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", f"size={self._size}m", "tmpfs", str(self.folder)],
            check=False,
            capture_output=True,
        )
        if done.returncode:
            missing = "a file system can't be mounted here"
            if os.environ.get("CI"):
                pytest.fail(missing)
            pytest.skip(missing)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        subprocess.run(["umount", "-l", str(self.folder)], check=True)
