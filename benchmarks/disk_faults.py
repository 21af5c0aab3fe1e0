"""Faults of the disk: its power cut, full, read-only, damaged."""

import asyncio
import contextlib
import random
from pathlib import Path

from benchmarks.fault_row import Row
from benchmarks.rig import Rig, break_down, kept, mounted, unmounted


async def power_cut(rig: Rig, row: Row, chance: random.Random, rounds: int) -> None:
    """The disk as it would be found: copied without what was not synced, and opened."""
    unsynced = rig.disk / "unsynced"
    gone = 0
    for number in range(rounds):
        await asyncio.sleep(chance.uniform(0.6, 1.4) * rig.length_s / rounds)
        # A file that nobody syncs shows that the cut really takes something away.
        with unsynced.open("ab") as file:
            file.write(b"%d\n" % number)
        image = rig.folder / "cut.img"
        taken = rig.stopped_copy(image)
        if taken:
            lost, unsynced_lost = await asyncio.to_thread(_look, rig, image, taken, number + 1)
            row.lost += lost
            gone += unsynced_lost
            row.rounds += 1
    row.note = f"of a file without syncs, {gone} lines"
    if gone == 0:
        row.lost += 1
        row.note = "a file without syncs lost nothing, so this shows nothing"


def _look(rig: Rig, image: Path, taken: frozenset[bytes], lines: int) -> tuple[int, int]:
    """How many acknowledged messages, and lines of the file without syncs, the cut has taken."""
    at = rig.folder / "cut"
    mounted(image, at)
    try:
        unsynced = at / "unsynced"
        found = len(unsynced.read_bytes().split()) if unsynced.exists() else 0
        return len(taken - kept(at / "data" / "rehearsal.db")), lines - found
    finally:
        unmounted(at)
        image.unlink()


async def full(rig: Rig, row: Row, chance: random.Random, rounds: int) -> None:
    """No room for a while."""
    filler = rig.disk / "filler"
    for _ in range(rounds):
        share = rig.length_s / rounds
        await asyncio.sleep(chance.uniform(0.1, 0.4) * share)
        with filler.open("wb", buffering=0) as file, contextlib.suppress(OSError):
            while True:
                file.write(bytes(4096))
        await asyncio.sleep(0.4 * share)
        filler.unlink()
        row.rounds += 1
        await asyncio.sleep(0.1 * share)


async def read_only(rig: Rig, row: Row, chance: random.Random, _rounds: int) -> None:
    """The file system gives up in flight and stays read-only; alerts go out from memory."""
    await asyncio.sleep(chance.uniform(0.2, 0.5) * rig.length_s)
    break_down(rig.disk)
    rig.insists = False
    row.rounds += 1
    row.note = "nothing is acknowledged after it; alerts go on"


async def corrupted(rig: Rig, row: Row, chance: random.Random, rounds: int) -> None:
    """Killed, two pages of its database overwritten, started again."""
    gone = 0
    for _ in range(rounds):
        await asyncio.sleep(chance.uniform(0.6, 1.4) * rig.length_s / (rounds + 1))
        await rig.station.kill()
        path = rig.station.database
        with path.open("r+b") as file:
            pages = path.stat().st_size // 4096
            for page in chance.sample(range(30, max(pages, 33)), 2):
                file.seek(page * 4096)
                file.write(chance.randbytes(4096))
        await rig.start(wait=True)
        row.rounds += 1
        gone = len(rig.acknowledged - kept(path))
    row.note = f"damaged pages took {gone} packets with them; all others were read"
