"""kill -9 at any moment: what was acknowledged is in the database, whole."""

import os
import random
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from groundstation.store.reader import Reader
from tests.support.store_samples import fix, frame, report

pytestmark = pytest.mark.live

WRITER = """
import asyncio, sys
from pathlib import Path
from tests.support.store_samples import message, packet
from groundstation.store.batch import Batch
from groundstation.store.writer import Store
from dataclasses import replace

async def write(path):
    async with Store.open(path, ("phone",)) as store:
        seq = store.next_seq
        async def one(seq):
            await store.commit(replace(packet(seq), messages=(message(f"alert-{seq}"),)))
            print(seq, flush=True)
        while True:
            await asyncio.gather(*(one(seq + 2 * n) for n in range(5)))
            seq += 10

asyncio.run(write(Path(sys.argv[1])))
"""


@pytest.mark.parametrize("seed", range(3))
def test_every_acknowledged_batch_is_found_after_a_kill(tmp_path: Path, seed: int) -> None:
    path = tmp_path / "station.db"
    chance = random.Random(seed)
    acknowledged: list[int] = []
    for _ in range(3):
        with subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path)],
            stdout=subprocess.PIPE,
            text=True,
            env=os.environ | {"PYTHONPATH": str(Path(__file__).parent)},
        ) as child:
            assert child.stdout is not None
            for _ in range(chance.randint(1, 40)):
                acknowledged.append(int(child.stdout.readline()))
            child.send_signal(signal.SIGKILL)
            # What was printed before the kill took hold was acknowledged as well.
            acknowledged += [int(line) for line in child.stdout.read().split()]
    with Reader(path) as reader:
        frames = dict(reader.frames())
        fixes = dict(reader.fixes("kanalas-1"))
        keys = reader.spoken_keys()
        pending = reader.outbox_counts()[0].pending
        [(verdict,)] = reader._connection.execute("PRAGMA integrity_check").fetchall()
        told = {seq for seq, _ in reader.events_since()}
    assert len(acknowledged) > 3
    assert set(acknowledged) <= frames.keys()
    assert all(frames[seq] == frame(seq) for seq in acknowledged)
    # Each transaction is there with all its parts, acknowledged or not.
    assert fixes == {seq + 1: fix(seq) for seq in frames}
    assert told == {seq + 1 for seq in frames}
    assert {key.occasion for key in keys} == {f"alert-{seq}" for seq in frames}
    assert pending == len(frames)
    assert verdict == "ok"
    assert report(acknowledged[-1]).latitude_deg == fixes[acknowledged[-1] + 1].latitude_deg
