"""A systemd of its own: process 1 of namespaces with a root in which nothing is the machine's."""

import os
import shutil
import subprocess
import sysconfig
import time
from pathlib import Path
from types import TracebackType
from typing import Final, Self

import pytest

SCRIPT: Final = Path(__file__).with_name("systemd_root.sh")
CHECKOUT: Final = Path(__file__).resolve().parents[2]
GROUPS: Final = (Path("/sys/fs/cgroup/unified"), Path("/sys/fs/cgroup"))
BOOT_S: Final = 240.0
UNIT: Final = "groundstation.service"


class PrivateSystemd:
    """Boots it in ``folder``; ``run`` runs a command inside. ``/opt/station/bin/groundstation`` is
    this checkout with Debian's Python.

    Skips the test where that can't be, and fails it where the variable CI is set.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._group: Path | None = None
        self._outer: subprocess.Popen[bytes] | None = None
        self._inner = 0
        self._log = folder.with_name(f"{folder.name}.log")

    def run(self, *command: str) -> subprocess.CompletedProcess[str]:
        inside = ["nsenter", "-t", str(self._inner), "-m", "-p", "-u", "-i", "-n", "-C", "--"]
        return subprocess.run(
            [*inside, *command], capture_output=True, text=True, check=False, timeout=240.0,
            env={"PATH": "/usr/sbin:/usr/bin", "LANG": "C.UTF-8"},
        )  # fmt: skip

    def shown(self, name: str) -> str:
        """A property of the unit."""
        return self.run("systemctl", "show", "-P", name, UNIT).stdout.strip()

    def write(self, path: str, text: str) -> None:
        """A file inside."""
        there = Path(f"/proc/{self._inner}/root{path}")
        there.parent.mkdir(parents=True, exist_ok=True)
        there.write_text(text, "utf-8")

    def __enter__(self) -> Self:
        _needed()
        base = next(one for one in GROUPS if (one / "cgroup.procs").exists())
        self._group = base / f"station-test-{os.getpid()}"
        self._group.mkdir()
        self._folder.mkdir(parents=True)
        packages = sysconfig.get_path("purelib")
        with self._log.open("wb") as log:
            self._outer = subprocess.Popen(
                # The shell moves itself into a control group of its own first.
                ["sh", "-c", 'echo $$ > "$0/cgroup.procs"; exec "$@"', str(self._group),
                 "unshare", "-m", "-p", "-u", "-i", "-n", "-C", "--fork", "--kill-child",
                 str(SCRIPT), str(self._folder), packages, str(CHECKOUT)],
                stdout=log, stderr=log,
            )  # fmt: skip
        until = time.monotonic() + BOOT_S
        while time.monotonic() < until and self._outer.poll() is None:
            self._inner = self._inner or self._first_child()
            if self._inner and self.run("systemctl", "is-system-running").stdout.strip() in (
                "running", "degraded",
            ):  # fmt: skip
                return self
            time.sleep(0.1)
        self.__exit__(None, None, None)
        return pytest.fail(f"systemd did not boot:\n{self._log.read_text()[-4_000:]}")

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._outer is not None:
            # The kernel ends all of a namespace with its process 1.
            self._outer.kill()
            self._outer.wait()
        if self._group is not None:
            deadline = time.monotonic() + 60.0
            while time.monotonic() < deadline:
                for one in sorted(self._group.rglob("*"), reverse=True):
                    if one.is_dir():
                        _gone(one)
                if _gone(self._group):
                    break
                time.sleep(0.05)

    def _first_child(self) -> int:
        assert self._outer is not None
        pid = self._outer.pid
        told = Path(f"/proc/{pid}/task/{pid}/children")
        children = told.read_text().split() if told.exists() else []
        if not children or Path(f"/proc/{children[0]}/comm").read_text().strip() != "systemd":
            return 0
        return int(children[0])


def _gone(group: Path) -> bool:
    try:
        group.rmdir()
    except OSError:
        return not group.exists()
    return True


def _needed() -> None:
    missing = ""
    if os.geteuid() != 0:
        missing = "a private systemd needs root"
    elif not Path("/usr/lib/systemd/systemd").exists() or shutil.which("nsenter") is None:
        missing = "systemd is not installed"
    elif not Path(f"/usr/bin/python{sysconfig.get_python_version()}").exists():
        missing = "Debian's Python is another one than this"
    elif not any((one / "cgroup.procs").exists() for one in GROUPS):
        missing = "there are no control groups of version 2"
    if missing and os.environ.get("CI"):
        pytest.fail(missing)
    if missing:
        pytest.skip(missing)
