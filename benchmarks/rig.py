"""A station on a disk of its own, fed with a real flight by others who want an answer.

Root is needed: the disk is an ext4 file system in a file, so that it can be filled, broken, and
copied as it would be found after a power cut.
"""

import asyncio
import contextlib
import json
import os
import re
import shutil
import signal
import sqlite3
import subprocess
import time
from collections import Counter
from collections.abc import AsyncIterator, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import aiohttp

from benchmarks.far_away import ADDRESS, NAME, FarAway
from benchmarks.tracks import Track
from tests.support.http_target import HttpTarget
from tests.support.live_station import LiveStation
from tests.support.mosquitto import free_port

DISK_MB = 64
PATIENCE_S = 60.0
BEFORE_S = 5.0
STARTING_S = 1.0
SENDERS = 8
ANSWER_S = 15.0
NO_ANSWER_S = 0.2

CONFIGURATION = """
[[payload]]
name = "flight"
[[payload.tracker]]
id = "tracker-1"
interval_s = 10.0
[[source]]
name = "hook"
kind = "http-push"
port = {port}
most_a_minute = 1000000
[source.decoder]
kind = "json"
[[target]]
name = "phone"
kind = "apprise"
url = {{ file = "{folder}/phone.url" }}
{more}
"""


def mounted(image: Path, at: Path) -> None:
    at.mkdir(exist_ok=True)
    command = ["mount", "-o", "loop,errors=remount-ro", str(image), str(at)]
    subprocess.run(command, check=True)


def unmounted(at: Path) -> None:
    subprocess.run(["umount", str(at)], check=True)


def break_down(at: Path) -> None:
    """Let the file system that is mounted at ``at`` find an error and give up writing."""
    source = subprocess.run(
        ["findmnt", "-no", "SOURCE", str(at)], check=True, capture_output=True, text=True
    ).stdout.strip()
    Path("/sys/fs/ext4", Path(source).name, "trigger_fs_error").write_text("1")


@contextlib.contextmanager
def disk(folder: Path) -> Iterator[Path]:
    """An ext4 file system of its own, mounted at the path that is given out."""
    image, at = folder / "disk.img", folder / "disk"
    with image.open("wb") as file:
        file.truncate(DISK_MB << 20)
    subprocess.run(["mkfs.ext4", "-q", "-F", str(image)], check=True)
    mounted(image, at)
    try:
        yield at
    finally:
        subprocess.run(["umount", "-l", str(at)], check=False)
        image.unlink()


@dataclass
class Rig:
    """One flight through one station. ``acknowledged`` are the messages answered with 200;
    ``worst_s`` is the longest time without any such answer while one was wanted. Without
    ``insists`` a message is sent once, and no answer is waited for. ``live`` is for a flight of now
    at the speed of life, on the machine's own clock."""

    folder: Path
    disk: Path
    track: Track
    speed: float
    station: LiveStation
    phone: HttpTarget
    port: int
    acknowledged: set[bytes] = field(default_factory=set)
    worst_s: float = 0.0
    insists: bool = True
    live: bool = False
    far: FarAway | None = None
    _begun_s: float = 0.0
    _answered_s: float = 0.0

    @property
    def jumping(self) -> Path:
        """Where the station with a jumping clock reads how wrong it is."""
        return self.folder / "wrong-by"

    @property
    def length_s(self) -> float:
        """How long the flight takes here."""
        return float(self.track.time_s[-1] - self.track.time_s[0]) / self.speed

    def flight_utc(self) -> float:
        since = time.monotonic() - self._begun_s - BEFORE_S
        return float(self.track.time_s[0]) + self.speed * since

    async def start(self, *, wait: bool = False) -> None:
        as_if = None if self.live else self.flight_utc() + self.speed * STARTING_S
        await self.station.start(as_if, wait=wait)

    async def fly(self) -> None:
        """Send the whole flight, each message until it is taken."""
        self._begun_s = self._answered_s = time.monotonic()
        await self.start()
        waiting: asyncio.Queue[bytes | None] = asyncio.Queue()
        async with aiohttp.ClientSession() as client, asyncio.TaskGroup() as group:
            for _ in range(SENDERS):
                group.create_task(self._deliver(client, waiting))
            for n, at_utc in enumerate(self.track.time_s):
                await asyncio.sleep(max(0.0, float(at_utc) - self.flight_utc()) / self.speed)
                if waiting.empty():
                    self._answered_s = time.monotonic()
                waiting.put_nowait(self.message(n))
            for _ in range(SENDERS):
                waiting.put_nowait(None)

    def message(self, n: int, over: str = "") -> bytes:
        """The track's fix ``n``; ``over`` tells it apart from the same one by another way."""
        track = self.track
        told: dict[str, object] = {"over": over} if over else {}
        told |= {
            "tracker": "tracker-1",
            "time": float(track.time_s[n]),
            "lat": float(track.lat[n]),
            "lon": float(track.lon[n]),
            "alt_m": float(track.altitude_m[n]),
        }
        return json.dumps(told).encode()

    async def _deliver(
        self, client: aiohttp.ClientSession, waiting: "asyncio.Queue[bytes | None]"
    ) -> None:
        url = f"http://127.0.0.1:{self.port}/"
        while (body := await waiting.get()) is not None:
            until = time.monotonic() + PATIENCE_S
            while time.monotonic() < until:
                wait_s = ANSWER_S if self.insists else NO_ANSWER_S
                with contextlib.suppress(aiohttp.ClientError, OSError, TimeoutError):
                    async with client.post(
                        url, data=body, timeout=aiohttp.ClientTimeout(total=wait_s)
                    ) as answer:
                        if answer.status == 200:
                            now = time.monotonic()
                            self.worst_s = max(self.worst_s, now - self._answered_s)
                            self._answered_s = now
                            self.acknowledged.add(body)
                            break
                if not self.insists:
                    break
                await asyncio.sleep(0.05)

    async def settled(self) -> None:
        """Wait until every alert was delivered, and end the station in order."""
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(30.0):
                while True:
                    told = await self.station.state()
                    if told is not None and not any(one["waiting"] for one in told["targets"]):
                        break
                    await asyncio.sleep(0.2)
        await asyncio.sleep(1.0)
        await self.station.stop()

    def stopped_copy(self, to: Path) -> frozenset[bytes]:
        """Copy the disk as a power cut would leave it; what was acknowledged by then."""
        pid = self.station.pid
        if pid is None:
            return frozenset()
        os.kill(pid, signal.SIGSTOP)
        try:
            # What the system holds in memory and has not written is not in the file.
            taken = frozenset(self.acknowledged)
            shutil.copyfile(self.folder / "disk.img", to)
        finally:
            os.kill(pid, signal.SIGCONT)
        return taken

    def alerts(self) -> Counter[str]:
        """What the phone was told, by the words of the title after the payload's name."""
        return Counter(_kind(str(body["title"])) for body in self.phone.accepted)

    def doubled(self) -> int:
        ids = Counter(_id(str(body["message"])) for body in self.phone.accepted)
        return sum(times - 1 for times in ids.values())


def kept(database: Path) -> set[bytes]:
    """The messages that a database holds. Raises where it is not sound."""
    with contextlib.closing(sqlite3.connect(database)) as connection:
        (state,) = connection.execute("PRAGMA integrity_check").fetchone()
        if state != "ok":
            raise RuntimeError(f"{database} is not sound: {state}")
        return {data for (data,) in connection.execute("SELECT data FROM frame")}


@contextlib.asynccontextmanager
async def rig(
    folder: Path,
    track: Track,
    speed: float,
    more: str = "",
    *,
    far: FarAway | None = None,
    live: bool = False,
) -> AsyncIterator[Rig]:
    """With ``far`` the phone's service is there."""
    with disk(folder) as at:
        async with HttpTarget(ADDRESS if far else "127.0.0.1") as phone:
            port = free_port()
            host = NAME if far else "127.0.0.1"
            (folder / "phone.url").write_text(f"json://{host}:{phone.port}/")
            text = CONFIGURATION.format(port=port, folder=folder, more=more).replace(
                'kind = "json"', 'kind = "json"\ntime_format = "unix"', 1
            )
            station = LiveStation(
                at, text, speed, far.inside if far else (),
                "benchmarks.jumping" if live else "groundstation",
            )  # fmt: skip
            made = Rig(folder, at, track, speed, station, phone, port, live=live, far=far)
            try:
                yield made
            finally:
                await station.kill()


def _kind(title: str) -> str:
    words = title.removeprefix("Rehearsal: ").partition(": ")[2].split()
    return next((word for word in words if word.isalpha()), "")


def _id(text: str) -> str:
    found = re.findall(r"#([0-9a-f]{6})\b", text)
    return str(found[-1]) if found else text
