"""Runs a command as a busy machine would: it stands still for seconds, again and again.

``python -m tests.support.starve .venv/bin/pytest -q tests/sources`` stops now all of it, now the
command alone, now all that it started, for three seconds or so, and lets it go on for two. What
fails there rests on the speed of the machine. Its processor is free meanwhile.
"""

import os
import random
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path


def starved(
    command: list[str], *, stands_s: float = 3.0, goes_s: float = 2.0, seed: int = 1
) -> int:
    """Run it to its end; returns its exit code. Times in seconds, the longest of each."""
    chance = random.Random(seed)
    with subprocess.Popen(command) as process:
        while process.poll() is None:
            time.sleep(chance.uniform(0.05, 1.0) * goes_s)
            own, *others = _family(process.pid)
            chosen = chance.choice(([own, *others], [own], others or [own]))
            # What a test itself has stopped is not for us to let go on.
            stopped = [process_id for process_id in chosen if not _stands(process_id)]
            _sent(stopped, signal.SIGSTOP)
            try:
                time.sleep(chance.uniform(0.2, 1.0) * stands_s)
            finally:
                _sent(stopped, signal.SIGCONT)
    return process.returncode


def _sent(processes: list[int], number: signal.Signals) -> None:
    for one in processes:
        with suppress(ProcessLookupError):
            os.kill(one, number)


def _stands(process: int) -> bool:
    with suppress(OSError):
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] == "T"
    return False


def _family(process: int) -> list[int]:
    """The process, and all that came from it and are still below it."""
    found = [process]
    for one in found:
        for tasks in Path(f"/proc/{one}/task").glob("*/children"):
            with suppress(OSError):
                found += map(int, tasks.read_text().split())
    return found


if __name__ == "__main__":
    sys.exit(starved(sys.argv[1:]))
