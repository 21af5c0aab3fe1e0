"""A fixed piece of work that says how fast the machine is now: goals in seconds are in its measure.

A goal was set on the machine where the yardstick takes ``REFERENCE_S``. On a machine a third as
fast it is three times as long, and so is the time that is allowed: what is judged is the program.
"""

import json
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from benchmarks.figure import Figure

REFERENCE_S = 0.08
"""How long a kind of work takes, on average, where the goals were set: two cores of an x86-64
server, Python 3.11; in processor time, as it was not alone on them."""

ROUNDS = 5
POINTS, TIMES = 300, 24
ROWS, COMMITS = 72_000, 120
WORDS = 36_000


class Yardstick:
    """How many times as long as where the goals were set everything takes now."""

    def __init__(self) -> None:
        self.slowness = _seconds() / REFERENCE_S

    def again(self) -> None:
        """Measure once more: for what was measured since the last time, take both."""
        self.slowness = (self.slowness * _seconds() / REFERENCE_S) ** 0.5

    def judged(self, name: str, took_s: float, goal_s: float) -> Figure:
        """A time beside its goal in this machine's measure."""
        here_s, times = goal_s * self.slowness, f"{self.slowness:.2f}"
        unit, factor = ("ms", 1000.0) if goal_s < 0.15 else ("s", 1.0)
        return Figure(
            name=name,
            measured=f"{took_s * factor:.3g} {unit}",
            goal=f"<= {here_s * factor:.3g} {unit} = {goal_s * factor:g} {unit} x {times}",
            good=took_s <= here_s,
        )


def _seconds() -> float:
    """Each kind's median of a few; the three weigh alike (a geometric mean)."""
    return statistics.geometric_mean(
        statistics.median(_took_s(work) for _ in range(ROUNDS))
        for work in (_numbers, _rows, _words)
    )


def _took_s(work: Callable[[], None]) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def _numbers() -> None:
    """A covariance, its root, and many draws from it: as an estimate does."""
    heights = np.linspace(0.0, 30_000.0, POINTS)
    for number in range(TIMES):
        near = np.exp(-np.abs(heights[:, None] - heights[None, :]) / (1_000.0 + number))
        root = np.linalg.cholesky(near + 1e-6 * np.eye(POINTS))
        np.median(root @ np.cos(heights[:, None] * np.arange(POINTS)), axis=1)


def _rows() -> None:
    """Rows into a file in small commits, and read again."""
    with tempfile.TemporaryDirectory() as name:
        database = sqlite3.connect(Path(name) / "yardstick.db")
        database.execute("PRAGMA journal_mode = WAL")
        # Without waiting for the disk: it is no part of how fast the machine computes.
        database.execute("PRAGMA synchronous = OFF")
        database.execute("CREATE TABLE fix (id INTEGER PRIMARY KEY, utc REAL, word TEXT)")
        for first in range(0, ROWS, ROWS // COMMITS):
            rows = ((n * 1.5, f"row {n}") for n in range(first, first + ROWS // COMMITS))
            database.executemany("INSERT INTO fix (utc, word) VALUES (?, ?)", rows)
            database.commit()
        database.execute("SELECT sum(utc), max(word) FROM fix").fetchall()
        database.close()


def _words() -> None:
    """Text to values and back."""
    lines = [f"Q0ABC-{n % 9}>APZKAN:!{n:06d}.00N/{n * 7 % 10_000:05d}" for n in range(WORDS)]
    parsed = []
    for line in lines:
        head, _, body = line.partition(">")
        parsed.append({"from": head, "n": int(body.partition("!")[2][:6]), "length": len(line)})
    json.loads(json.dumps(sorted(parsed, key=lambda one: (one["from"], -int(one["n"])))))
