"""The fault driver in short: a real flight while the station is killed, cut off, and out of room.

The whole of it is ``python -m benchmarks.faults``; its figures are in the README."""

import asyncio
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = [pytest.mark.live, pytest.mark.slow]

ROOT = Path(__file__).resolve().parents[2]
FAULTS = {
    "process killed": 10, "power cut": 10, "network and names gone": 1,
}  # fmt: skip


def disk_can_be_made(folder: Path) -> bool:
    """Whether a file system in a file can be mounted here."""
    if os.geteuid() != 0 or shutil.which("mkfs.ext4") is None:
        return False
    image, at = folder / "probe.img", folder / "probe"
    image.write_bytes(bytes(8 << 20))
    at.mkdir()
    made = subprocess.run(["mkfs.ext4", "-q", "-F", image], check=False, capture_output=True)
    done = subprocess.run(["mount", "-o", "loop", image, at], check=False, capture_output=True)
    if made.returncode or done.returncode:
        return False
    subprocess.run(["umount", at], check=True)
    return True


async def test_nothing_acknowledged_is_lost(shared: Path, tmp_path: Path) -> None:
    if not disk_can_be_made(tmp_path):
        pytest.skip("a disk in a file needs root, mkfs.ext4 and loop devices")
    process = await asyncio.create_subprocess_exec(
        sys.executable, "-m", "benchmarks.faults", shared / "flights", *FAULTS,
        "--share", "0.05", "--every", "5", "--quiet-s", "20",
        cwd=ROOT, stdout=asyncio.subprocess.PIPE, stderr=asyncio.subprocess.STDOUT,
    )  # fmt: skip
    said, _ = await process.communicate()
    told = said.decode()
    assert process.returncode == 0, told
    for fault, rounds in FAULTS.items():
        [row] = re.findall(rf"^ok    {fault} +(\d+) +([\d,]+) +(\d+)", told, re.MULTILINE)
        assert int(row[0]) >= rounds, told
        assert int(row[1].replace(",", "")) > 1_000, told
        assert int(row[2]) == 0, told
