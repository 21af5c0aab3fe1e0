"""Networks of their own: each station in a namespace, joined by a bridge that can be cut."""

import os
import shutil
import subprocess
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Self

import pytest

NETWORK = "10.231.77"


@dataclass
class Namespaces:
    """One namespace for each of ``names``, and a bridge at ``address`` that reaches them all.

    Skips the test where they can't be made, and fails it where the variable CI is set.
    """

    names: tuple[str, ...]
    address: str = f"{NETWORK}.1"
    _mark: str = field(default_factory=lambda: f"gs{os.getpid() % 100_000}")

    def inside(self, name: str) -> list[str]:
        """What stands before a command that is to run in that namespace."""
        return ["ip", "netns", "exec", self._space(name)]

    def cut(self, name: str) -> None:
        _ip("link", "set", self._link(name), "down")

    def mend(self, name: str) -> None:
        _ip("link", "set", self._link(name), "up")

    def __enter__(self) -> Self:
        if shutil.which("ip") is None or os.geteuid() != 0:
            missing = "network namespaces need root and the program ip"
            if os.environ.get("CI"):
                pytest.fail(missing)
            pytest.skip(missing)
        bridge = self._mark
        _ip("link", "add", bridge, "type", "bridge")
        _ip("addr", "add", f"{self.address}/24", "dev", bridge)
        _ip("link", "set", bridge, "up")
        for number, name in enumerate(self.names):
            space, link = self._space(name), self._link(name)
            _ip("netns", "add", space)
            _ip("link", "add", link, "type", "veth", "peer", "name", "wire", "netns", space)
            _ip("link", "set", link, "master", bridge, "up")
            there = ("-n", space)
            _ip(*there, "addr", "add", f"{NETWORK}.{10 + number}/24", "dev", "wire")
            _ip(*there, "link", "set", "wire", "up")
            _ip(*there, "link", "set", "lo", "up")
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        for name in self.names:
            if Path("/run/netns", self._space(name)).exists():
                _ip("netns", "del", self._space(name))
        _ip("link", "del", self._mark)

    def _space(self, name: str) -> str:
        return f"{self._mark}-{name}"

    def _link(self, name: str) -> str:
        return f"{self._mark}{name[:6]}"


def _ip(*words: str) -> None:
    subprocess.run(["ip", *words], check=True, capture_output=True)
