"""Many payloads at once over a broker: ``python -m benchmarks.load``.

200 payloads, each heard by five receivers once a second: a thousand messages a second, for two
minutes, over a real Mosquitto; beside it a bare subscriber of the same topics. Needs ``mosquitto``.
"""

import argparse
import contextlib
import itertools
import json
import multiprocessing
import os
import shutil
import socket
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path
from typing import Any

from paho.mqtt import client as paho
from paho.mqtt.enums import CallbackAPIVersion

from benchmarks.figure import Figure

RECEIVERS = 5
SENDERS = 4
P99_S = 2.0
START_LIMIT_S = 120.0
EVERY_S = 10.0


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--payloads", type=int, nargs="+", default=[200])
    parser.add_argument("--seconds", type=int, default=120)
    parser.add_argument("--slow-pages", type=int, default=0, help="clients that hardly read")
    asked = parser.parse_args()
    good = True
    for payloads in asked.payloads:
        for one in measure(payloads, asked.seconds, asked.slow_pages):
            good &= one.good
            print(
                f"{'ok  ' if one.good else 'MISS'}  {one.name}  {one.measured}  (goal {one.goal})"
            )
    sys.exit(0 if good else 1)


def measure(payloads: int, seconds: int, slow_pages: int = 0) -> list[Figure]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        port, page = free_port(), free_port()
        broker = _broker(folder, port)
        station = _station(folder, port, page, payloads)
        seen: Any = multiprocessing.get_context("spawn").Queue()
        context = multiprocessing.get_context("spawn")
        bare = context.Process(target=_bare, args=(port, payloads * RECEIVERS * seconds, seen))
        bare.start()
        slow = context.Process(target=_hardly_read, args=(page, slow_pages), daemon=True)
        try:
            _until_it_listens(page)
            slow.start()
            begun_cpu, begun = _cpu_s(station.pid), time.time()
            senders = [
                context.Process(target=_send, args=(port, payloads, part, seconds))
                for part in range(SENDERS)
            ]
            for one in senders:
                one.start()
            memory = []
            while any(one.is_alive() for one in senders):
                time.sleep(5.0)
                memory.append(_rss_mb(station.pid))
            sent = time.time()
            wanted = payloads * RECEIVERS * seconds
            database = folder / "data" / "station.db"
            while _frames(database) < wanted and time.time() - sent < 60.0:
                time.sleep(0.25)
            drained_s = time.time() - sent
            cpu_s = _cpu_s(station.pid) - begun_cpu
            with urllib.request.urlopen(f"http://127.0.0.1:{page}/api/state", timeout=30.0) as told:
                state = json.load(told)
            bare_s = seen.get(timeout=60.0)
        finally:
            station.terminate()
            station.wait(30.0)
            broker.terminate()
            broker.wait(10.0)
            bare.kill()
            slow.kill()
        return _figures(
            database, payloads, seconds, state, memory, drained_s, cpu_s / (sent - begun), bare_s
        )


def _figures(
    database: Path,
    payloads: int,
    seconds: int,
    state: dict[str, Any],
    memory: list[float],
    drained_s: float,
    cpu: float,
    bare_s: float,
) -> list[Figure]:
    wanted = payloads * RECEIVERS * seconds
    with sqlite3.connect(database) as connection:
        rows = connection.execute("SELECT received_utc, data FROM frame").fetchall()
        (fixes,) = connection.execute("SELECT count(*) FROM fix").fetchone()
        made = connection.execute(
            "SELECT payload, time_utc FROM landing ORDER BY payload, time_utc"
        ).fetchall()
    delays = sorted(received - json.loads(data)["sent"] for received, data in rows)
    p99 = delays[int(0.99 * len(delays))] + drained_s * (drained_s > 1.0)
    gaps: dict[str, list[float]] = {}
    for (a, t), (b, u) in itertools.pairwise(made):
        if a == b:
            gaps.setdefault(a, []).append(u - t)
    worst = [max(one) for one in gaps.values()] or [float("inf")]
    early, late = memory[len(memory) // 3], memory[-1]
    name = f"{payloads} payloads, {payloads * RECEIVERS} messages/s"
    return [
        Figure(
            name=f"{name}: kept of {wanted}",
            measured=f"{len(rows)} frames, {fixes} fixes",
            goal=f"all, and {payloads * seconds} fixes",
            good=len(rows) >= wanted and fixes == payloads * seconds,
        ),
        Figure(
            name=f"{name}: delay to reception, p99; all on disk after the last",
            measured=f"{p99:.2f} s; {drained_s:.1f} s",
            goal=f"<= {P99_S} s",
            good=p99 <= P99_S,
        ),
        Figure(
            name=f"{name}: longest pause between estimates of a payload, median",
            measured=f"{statistics.median(worst):.1f} s ({len(state['payloads'])} payloads)",
            goal=f"<= {EVERY_S} s",
            good=statistics.median(worst) <= EVERY_S,
        ),
        Figure(
            name=f"{name}: memory after a third and at the end",
            measured=f"{early:.0f}, {late:.0f} MB",
            goal="flat (20 %)",
            good=late <= 1.2 * early,
        ),
        Figure(
            name=f"{name}: processor time; a bare subscriber had all after",
            measured=f"{100.0 * cpu:.0f} % of one core; {bare_s - seconds:.1f} s more",
            goal="told",
            good=True,
        ),
    ]


def _send(port: int, payloads: int, part: int, seconds: int) -> None:
    """Publish this part's payloads once a second, as five receivers would."""
    client = paho.Client(CallbackAPIVersion.VERSION2, f"sender-{part}")
    client.max_inflight_messages_set(2_000)
    client.connect("127.0.0.1", port)
    client.loop_start()
    begun = time.time()
    mine = range(part, payloads, SENDERS)
    for second in range(seconds):
        for place, number in enumerate(mine):
            due = begun + second + place / len(mine)
            time.sleep(max(0.0, due - time.time()))
            told = {
                "tracker": f"Q0L{number:04d}",
                "time": begun - 900.0 + 10.0 * second,
                "lat": 47.0 + 0.001 * number,
                "lon": 20.0 + 0.001 * second,
                "alt_m": 100.0 + 50.0 * max(0, second - 5),
            }
            for receiver in range(RECEIVERS):
                told["sent"] = time.time()
                client.publish(f"load/{receiver}", json.dumps(told), qos=1)
    while client._out_messages:
        time.sleep(0.05)
    client.disconnect()
    client.loop_stop()


def _until_it_listens(page: int) -> None:
    """Until the station has subscribed: what is published before, a broker gives to nobody."""
    begun = time.monotonic()
    while time.monotonic() - begun < START_LIMIT_S:
        with (
            contextlib.suppress(OSError),
            urllib.request.urlopen(f"http://127.0.0.1:{page}/api/state", timeout=30.0) as told,
        ):
            if json.load(told)["sources"][0]["state"] == "running":
                return
        time.sleep(0.1)
    sys.exit("the station does not reach the broker")


def _hardly_read(page: int, count: int) -> None:
    """Ask for the page's state over and over on ``count`` connections, and take a few bytes a
    second of each answer."""
    lines: list[socket.socket] = []
    while True:
        while len(lines) < count:
            line = socket.create_connection(("127.0.0.1", page))
            line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2_048)
            lines.append(line)
        for line in list(lines):
            try:
                line.sendall(b"GET /api/state HTTP/1.1\r\nHost: localhost\r\n\r\n")
                line.recv(16)
            except OSError:
                lines.remove(line)
        time.sleep(1.0)


def _bare(port: int, wanted: int, seen: Any) -> None:
    """Subscribe and count; tells how long all of them took."""
    count, begun = 0, 0.0

    def heard(_client: Any, _data: Any, _message: Any) -> None:
        nonlocal count, begun
        if not count:
            begun = time.time()
        count += 1
        if count == wanted:
            seen.put(time.time() - begun)

    client = paho.Client(CallbackAPIVersion.VERSION2, "bare")
    client.on_message = heard
    client.connect("127.0.0.1", port)
    client.subscribe("load/#", qos=1)
    client.loop_forever()


def _station(folder: Path, port: int, page: int, payloads: int) -> subprocess.Popen[bytes]:
    listed = "".join(
        f'[[payload]]\nname = "load-{n}"\n[[payload.tracker]]\nid = "Q0L{n:04d}"\n'
        for n in range(payloads)
    )
    file = folder / "station.toml"
    file.write_text(
        f'[station]\ndata_dir = "{folder}/data"\n[web]\nport = {page}\n{listed}'
        f'[[source]]\nname = "broker"\nkind = "mqtt"\nhost = "127.0.0.1"\nport = {port}\n'
        'topics = ["load/#"]\nin_flight = 1000\n[source.decoder]\nkind = "json"\n'
        'time_format = "unix"\n'
    )
    return subprocess.Popen(
        [sys.executable, "-m", "groundstation", "run", "--config", str(file),
         "--log-level", "error"],
        stdout=subprocess.DEVNULL,
    )  # fmt: skip


def _broker(folder: Path, port: int) -> subprocess.Popen[bytes]:
    program = shutil.which("mosquitto", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    if program is None:
        sys.exit("mosquitto is not installed")
    file = folder / "mosquitto.conf"
    root = "user root\n" if os.geteuid() == 0 else ""
    file.write_text(
        f"listener {port} 127.0.0.1\nallow_anonymous true\nmax_queued_messages 0\n{root}"
        "max_inflight_messages 1000\nlog_type error\n"
    )
    return subprocess.Popen([program, "-c", str(file)])


def _frames(database: Path) -> int:
    with sqlite3.connect(f"file:{database}?mode=ro", uri=True) as connection:
        return int(connection.execute("SELECT count(*) FROM frame").fetchone()[0])


def _rss_mb(pid: int) -> float:
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1]) / 1000.0
    return 0.0


def _cpu_s(pid: int) -> float:
    parts = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(parts[11]) + int(parts[12])) / os.sysconf("SC_CLK_TCK")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


if __name__ == "__main__":
    main()
