"""The landing benchmark runs to its end; what it must show is held by the scores."""

import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parents[1]


def test_the_landing_benchmark_measures_and_draws(shared: Path, tmp_path: Path) -> None:
    picture = tmp_path / "landing.png"
    done = subprocess.run(
        [sys.executable, "-m", "benchmarks.landing", str(shared / "flights"),
         str(shared / "radiosondes"), "--seeds", "10", "--figure", str(picture)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=580,
        check=False,
    )  # fmt: skip
    lines = done.stdout.splitlines()
    assert done.returncode in (0, 1), done.stderr
    assert len(lines) > 45, done.stderr
    missed = [line for line in lines if line.startswith("MISS")]
    # With ten seeds chance decides on the simulated ones; a busy machine on the times.
    by_chance = ("simulated", " ms ", "after a tenth of the fixes")
    held = [line for line in missed if not any(one in line for one in by_chance)]
    # Known: where fixes are rare the regions are too wide for these flights (README).
    rare = ("every 300 s", "every 600 s")
    assert [line for line in held if not any(one in line for one in rare)] == []
    assert "tuned on 16 of them" in lines[0]
    assert picture.read_bytes().startswith(b"\x89PNG")
