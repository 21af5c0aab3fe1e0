"""What a person waits for: --help, a start, a replay; and how large the station grows."""

import os
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from pathlib import Path

from benchmarks.figure import Figure
from benchmarks.yardstick import Yardstick
from tests.support.configurations import DATA, REHEARSAL

GROUNDSTATION = (sys.executable, "-m", "groundstation")
HELP_S, START_S, REPLAY_S, MEMORY_MB = 0.3, 2.0, 8.0, 120.0

# Everything that can be loaded: all kinds of sources (two of them find nobody), a service to alert.
EVERYTHING = (
    f"{DATA}{REHEARSAL}"
    + """[[source]]
name = "line"
kind = "tcp"
host = "127.0.0.1"
port = 9
[source.decoder]
kind = "aprs"
[[source]]
name = "radio"
kind = "serial"
port = "/dev/serial/by-id/none"
[source.decoder]
kind = "aprs"
framing = "ax25"
[[source]]
name = "broker"
kind = "mqtt"
host = "127.0.0.1"
port = 9
topics = ["kanalas-1/#"]
[source.decoder]
kind = "json"
[[target]]
name = "phone"
kind = "apprise"
url = {{ env = "PHONE" }}
[web]
port = {port}
"""
)


def measure_help(yardstick: Yardstick) -> list[Figure]:
    took = []
    for _ in range(7):
        begun = time.perf_counter()
        subprocess.run([*GROUNDSTATION, "--help"], capture_output=True, check=True)
        took.append(time.perf_counter() - begun)
    yardstick.again()
    return [yardstick.judged("groundstation --help (best of 7)", min(took), HELP_S)]


def measure_replay(track: Path, yardstick: Yardstick) -> list[Figure]:
    """A flight of 8,000 fixes at 1 Hz, with an estimate every five seconds of it."""
    fixes = sum(1 for line in track.read_text().splitlines() if line[:1].isdigit())
    begun = time.perf_counter()
    subprocess.run(
        [*GROUNDSTATION, "replay", str(track), "--json"], capture_output=True, check=True
    )
    took_s = time.perf_counter() - begun
    yardstick.again()
    return [yardstick.judged(f"replay of {fixes} fixes at 1 Hz", took_s, REPLAY_S)]


def measure_station(start_utc: float, yardstick: Yardstick) -> list[Figure]:
    """Start with everything loaded, and fly the rehearsal at 300 times real time."""
    with tempfile.TemporaryDirectory() as name:
        file = Path(name) / "station.toml"
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        file.write_text(EVERYTHING.format(port=port))
        yardstick.again()
        begun = time.perf_counter()
        with subprocess.Popen(
            [*GROUNDSTATION, "run", "--config", str(file), "--tell-targets",
             "--as-if", f"{start_utc}",
             "--speed", "300", "--log-level", "error"],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            env={**os.environ, "PHONE": "json://127.0.0.1:9/"},
        ) as station:  # fmt: skip
            while not _answers(port):
                time.sleep(0.02)
            start_s = time.perf_counter() - begun
            started = yardstick.judged(
                "start-up until the page answers, everything loaded", start_s, START_S
            )
            time.sleep(35.0)
            memory_mb = _peak_mb(station.pid)
            station.terminate()
    return [
        started,
        Figure(
            name="most resident memory over a flight, everything loaded",
            measured=f"{memory_mb:.0f} MB",
            goal=f"<= {MEMORY_MB:.0f} MB",
            good=memory_mb <= MEMORY_MB,
        ),
    ]


def _answers(port: int) -> bool:
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/healthz", timeout=1.0):
            return True
    except (urllib.error.URLError, OSError):
        return False


def _peak_mb(pid: int) -> float:
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("VmHWM"):
            return int(line.split()[1]) / 1000.0
    raise RuntimeError("the system does not tell a process's memory")
