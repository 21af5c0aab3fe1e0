"""The tool that starves a command stops it indeed, with what it started."""

import sys

from tests.support.starve import starved

# Ends well once it has seen that it stood still; its parent only waits for it.
SEES_A_GAP = """
import sys, time
last = time.monotonic()
while time.monotonic() - last < 0.5:
    last = time.monotonic()
    time.sleep(0.001)
sys.exit(7)
"""
PARENT = "import subprocess, sys; sys.exit(subprocess.call([sys.executable, '-c', sys.argv[1]]))"


def test_a_command_and_what_it_started_are_stopped_and_end_as_they_would() -> None:
    for command in (["-c", SEES_A_GAP], ["-c", PARENT, SEES_A_GAP]):
        assert starved([sys.executable, *command], stands_s=1.0, goes_s=0.2) == 7
