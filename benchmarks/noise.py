"""Noise through the decoders and framers, and a long recording read."""

import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from benchmarks.figure import Figure
from benchmarks.yardstick import Yardstick
from groundstation.decoders.build import build_decoder
from groundstation.decoders.framing import KissFramer, LineFramer
from groundstation.recordings.read_any import read_recording
from tests.support.noise import NOISE_BYTES, NOISES, SETTINGS, pieces

NOISE_S, READ_S = 0.5, 2.0
LINES = 100_000
PACKET = b"Q0HAB-11>APZKAN,WIDE2-1,qAR,Q0PSZ-1:/083000h4706.00N/02018.00EO/A=000279"


def measure(yardstick: Yardstick) -> list[Figure]:
    longest_s = max(
        *(_decode_s(kind, noise) for kind in SETTINGS for noise in NOISES),
        *(_frame_s(make, data) for make in (LineFramer, KissFramer) for data in NOISES.values()),
    )
    yardstick.again()
    figures = [
        yardstick.judged("64 KiB of the worst noise, the slowest decoder", longest_s, NOISE_S)
    ]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.txt"
        path.write_bytes(b"".join(b"%d\t%s\n" % (1778920200 + i, PACKET) for i in range(LINES)))
        took_s = _took_s(lambda: read_recording(path))
    yardstick.again()
    return [*figures, yardstick.judged(f"a recording of {LINES:,} packets read", took_s, READ_S)]


def _decode_s(kind: str, noise: str) -> float:
    decoder = build_decoder(SETTINGS[kind])

    def decode(work: list[bytes]) -> None:
        for frame in work:
            decoder.decode(frame, 1_715_342_400.0)

    return max(_took_s(lambda work=work: decode(work)) for work in pieces(kind, noise))  # type: ignore[misc]


def _frame_s(make: type[LineFramer] | type[KissFramer], data: bytes) -> float:
    def cut(size: int) -> None:
        framer = make()
        for place in range(0, len(data), size):
            framer.feed(data[place : place + size])
        framer.flush()

    return max(_took_s(lambda size=size: cut(size)) for size in (1, 64, NOISE_BYTES))  # type: ignore[misc]


def _took_s(work: Callable[[], object]) -> float:
    """The best of two: what else the machine does is not the decoder's fault."""
    times = []
    for _ in range(2):
        begun = time.perf_counter()
        work()
        times.append(time.perf_counter() - begun)
    return min(times)
