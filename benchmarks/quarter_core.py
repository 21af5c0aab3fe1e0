"""A flight at 1 Hz through the whole station on a quarter of one core: ``python -m
benchmarks.quarter_core``.

Needs root: the quarter is a control group (version 2, or the cpu group of version 1). Prints the
processor time as a share of the flight's time, the largest memory, how often the quarter was used
up, and how far behind its clock the station was at the end.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any

from benchmarks.load import free_port

PERIOD_US = 100_000
QUARTER = 0.25
GROUPS = Path("/sys/fs/cgroup")
CONFIGURATION = """
[station]
data_dir = "data"
[web]
port = {port}
[[payload]]
name = "kanalas-1"
[[payload.tracker]]
id = "Q0HAB-11"
[[source]]
name = "flight"
kind = "recording"
path = "flight.json"
"""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--speed", type=float, default=8.0, help="times real time")
    parser.add_argument("--until", type=float, default=9_000.0, help="seconds of the flight")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name, quarter() as group:
        folder, port = Path(name), free_port()
        program = str(Path(sys.executable).with_name("groundstation"))
        subprocess.run(
            [program, "simulate", "--seed", "3", "--form", "json", "--interval", "1s",
             "--out", str(folder / "flight.json")],
            check=True,
        )  # fmt: skip
        (folder / "station.toml").write_text(CONFIGURATION.format(port=port))
        station = subprocess.Popen(
            ["sh", "-c", 'echo $$ > "$0/cgroup.procs"; exec "$@"', str(group),
             program, "run", "--config", str(folder / "station.toml"), "--speed", str(asked.speed)],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            print(measured(station.pid, group, port, asked.until))
        finally:
            station.terminate()
            station.wait()


def measured(pid: int, group: Path, port: int, until_s: float) -> str:
    begun = None
    while True:
        time.sleep(2.0)
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/api/state") as answer:
                state: dict[str, Any] = json.load(answer)
        except OSError:
            continue
        now = datetime.fromisoformat(state["now"]).timestamp()
        begun = begun or now
        payload = state["payloads"][0]
        if now - begun >= until_s or payload["phase"] == "landed":
            break
    used = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    cpu_s = (int(used[11]) + int(used[12])) / os.sysconf("SC_CLK_TCK")
    status = dict(
        line.split(":", 1) for line in Path(f"/proc/{pid}/status").read_text().splitlines()
    )
    held = dict(line.split() for line in (group / "cpu.stat").read_text().splitlines())
    behind = now - datetime.fromisoformat(payload["last"]["time"]).timestamp()
    return (
        f"{now - begun:,.0f} s of flight, {payload['phase']}: {cpu_s:.1f} s of processor,"
        f" {100.0 * cpu_s / (now - begun):.2f} % of real time; largest memory"
        f" {int(status['VmHWM'].split()[0]) / 1000.0:.0f} MB; held back in"
        f" {held['nr_throttled']} of {held['nr_periods']} tenths of a second; {behind:.0f} s behind"
    )


@contextmanager
def quarter() -> Iterator[Path]:
    """A control group that may use a quarter of a core."""
    old = GROUPS / "cpu"
    group = (old if old.is_dir() else GROUPS) / f"quarter-{os.getpid()}"
    group.mkdir()
    try:
        if old.is_dir():
            (group / "cpu.cfs_period_us").write_text(str(PERIOD_US))
            (group / "cpu.cfs_quota_us").write_text(str(int(QUARTER * PERIOD_US)))
        else:
            (group / "cpu.max").write_text(f"{int(QUARTER * PERIOD_US)} {PERIOD_US}")
        yield group
    finally:
        group.rmdir()


if __name__ == "__main__":
    main()
