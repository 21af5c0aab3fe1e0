"""Measure everything, print a table, and end with 1 where a goal is missed.

Goals in seconds are of the machine where they were set; ``yardstick`` says what they are here.
"""

import subprocess
import sys
import tempfile
from pathlib import Path

from benchmarks import alerts, commands, noise, packets
from benchmarks.yardstick import Yardstick
from groundstation.recordings.read_any import read_recording
from groundstation.simulation.settings import LAUNCH_UTC


def main() -> None:
    figures = []
    yardstick = Yardstick()
    with tempfile.TemporaryDirectory() as name:
        track, raw = Path(name) / "track.csv", Path(name) / "packets.txt"
        # A slow climb, so that 8,000 fixes are heard.
        _simulate("track", track, "--ascent", "3.1m/s")
        _simulate("packets", raw)
        print(f"a simulated flight of {len(read_recording(raw).frames)} packets", file=sys.stderr)
        figures += packets.measure(raw)
        figures += commands.measure_replay(track, yardstick)
    figures += noise.measure(yardstick)
    figures += alerts.measure(yardstick)
    figures += commands.measure_station(LAUNCH_UTC - 900.0, yardstick)
    figures += commands.measure_help(yardstick)
    width = max(len(figure.name) for figure in figures)
    for figure in figures:
        print(
            f"{'ok  ' if figure.good else 'MISS'}  {figure.name:{width}}"
            f"  {figure.measured}  (goal {figure.goal})"
        )
    sys.exit(0 if all(figure.good for figure in figures) else 1)


def _simulate(form: str, out: Path, *more: str) -> None:
    subprocess.run(
        [sys.executable, "-m", "groundstation", "simulate", "--form", form, "--interval", "1s",
         "--out", str(out), *more],
        check=True, stderr=subprocess.DEVNULL,
    )  # fmt: skip


if __name__ == "__main__":
    main()
