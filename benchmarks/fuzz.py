"""Strange input, guided by coverage, for whatever strangers can reach.

``python -m benchmarks.fuzz`` needs ``pip install -e .[fuzz]`` (x86_64). It prints, for each target,
how many inputs it took, the slowest and the memory, and ends with 1 where anything failed.
"""

import argparse
import re
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

from benchmarks.fuzz_targets import targets

LONGEST_S = 5
MOST_MB = 1_024
LARGEST_BYTES = 65_536
_FIGURE = re.compile(r"stat::(\w+):\s+([0-9]+)")


@dataclass(frozen=True, slots=True)
class Outcome:
    name: str
    good: bool
    figures: dict[str, int]
    log: str

    def row(self) -> str:
        told = self.figures
        return (
            f"{'ok  ' if self.good else 'FAIL'}  {self.name:14}"
            f"  {told.get('number_of_executed_units', 0):>10,} inputs"
            f"  slowest {told.get('slowest_unit_time_sec', 0)} s"
            f"  {told.get('peak_rss_mb', 0)} MB"
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=10.0, help="for each target")
    parser.add_argument("--jobs", type=int, default=2, help="targets at a time")
    parser.add_argument("names", nargs="*", help="only these targets")
    given = parser.parse_args()
    if find_spec("atheris") is None:
        parser.error("atheris is missing; install it with: pip install -e .[fuzz]")
    with tempfile.TemporaryDirectory() as folder:
        every = targets(Path(folder))
        chosen = given.names or list(every)
        with ThreadPoolExecutor(given.jobs) as pool:
            done = [
                pool.submit(_fuzzed, name, every[name].seeds, 60.0 * given.minutes)
                for name in chosen
            ]
            outcomes = [one.result() for one in done]
    for outcome in outcomes:
        print(outcome.row())
        if not outcome.good:
            print(outcome.log[-4_000:], file=sys.stderr)
    sys.exit(0 if all(outcome.good for outcome in outcomes) else 1)


def _fuzzed(name: str, seeds: tuple[bytes, ...], seconds: float) -> Outcome:
    with tempfile.TemporaryDirectory() as folder:
        corpus = Path(folder) / "corpus"
        corpus.mkdir()
        for number, seed in enumerate(seeds):
            (corpus / str(number)).write_bytes(seed)
        done = subprocess.run(
            [sys.executable, "-m", "benchmarks.fuzz_one", name, str(corpus),
             f"-max_total_time={seconds:.0f}", f"-timeout={LONGEST_S}",
             f"-rss_limit_mb={MOST_MB}", f"-max_len={LARGEST_BYTES}", "-print_final_stats=1",
             f"-artifact_prefix={folder}/"],
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
            text=True, errors="replace", check=False,
        )  # fmt: skip
        artifacts = [path for path in Path(folder).iterdir() if path.is_file()]
        found = "\n".join(f"{path.name}: {path.read_bytes()!r}"[:2_000] for path in artifacts)
    figures = {key: int(value) for key, value in _FIGURE.findall(done.stdout)}
    return Outcome(name, done.returncode == 0, figures, f"{done.stdout}\n{found}")


if __name__ == "__main__":
    main()
