"""What can't be tried is a failure where it was promised that it can."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
SKIPS = """
import pytest

def test_asks_for_a_program():
    pytest.skip("no such program")

@pytest.mark.skipif(True, reason="no browser")
def test_asks_for_a_browser():
    pass

@pytest.fixture
def folder():
    pytest.skip("no folder")

def test_asks_for_a_folder(folder):
    pass
"""


@pytest.mark.slow
@pytest.mark.parametrize(
    ("environment", "ends"), [({}, "3 skipped"), ({"CI": "true"}, "1 failed, 2 errors")]
)
def test_a_skip_is_a_failure_in_ci(tmp_path: Path, environment: dict[str, str], ends: str) -> None:
    (tmp_path / "test_skips.py").write_text(SKIPS, encoding="utf-8")
    others = {name: value for name, value in os.environ.items() if name != "CI"}
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "tests.support.no_skips",
         "-p", "no:cacheprovider", "--rootdir", tmp_path, tmp_path],
        cwd=ROOT, env=others | environment, capture_output=True, text=True, check=False,
    )  # fmt: skip
    lines = done.stdout.splitlines()
    assert any(ends in line for line in lines), done.stdout + done.stderr
    assert ("no such program" in done.stdout) == (ends == "1 failed, 2 errors")
