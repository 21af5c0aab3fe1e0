"""A service at an address and under a name that can both be lost; root is needed."""

import asyncio
import contextlib
import struct
import subprocess
from collections.abc import AsyncIterator
from dataclasses import dataclass
from pathlib import Path

ADDRESS = "10.231.78.1"
NAME = "phone.invalid"
_LINK = "gsfar"
_ANSWER, _REFUSAL = 0x8180, 0x8182
"""Flags of an answer, and of one that the server failed (RFC 1035, 4.1.1)."""


@dataclass
class FarAway:
    """``NAME`` is told by a name server of its own; ``inside`` stands before a command that is to
    ask this one. ``names`` is what it does: "told", "refused" or "silent"."""

    inside: tuple[str, ...]
    names: str = "told"

    def cut(self) -> None:
        _ip("addr", "del", f"{ADDRESS}/32", "dev", _LINK)
        _ip("route", "add", "unreachable", f"{ADDRESS}/32")

    def mend(self) -> None:
        _ip("route", "del", "unreachable", f"{ADDRESS}/32")
        _ip("addr", "add", f"{ADDRESS}/32", "dev", _LINK)


class _NameServer(asyncio.DatagramProtocol):
    def __init__(self, far: FarAway) -> None:
        self._far = far
        self._out: asyncio.DatagramTransport | None = None

    def connection_made(self, transport: asyncio.DatagramTransport) -> None:  # type: ignore[override]
        self._out = transport

    def datagram_received(self, data: bytes, addr: tuple[str, int]) -> None:
        if self._far.names == "silent" or self._out is None:
            return
        # The question: labels, a zero, its type and its class (RFC 1035, 4.1.2).
        end = data.index(b"\0", 12) + 5
        (kind,) = struct.unpack("!H", data[end - 4 : end - 2])
        refused = self._far.names == "refused"
        found = kind == 1 and not refused
        flags = _REFUSAL if refused else _ANSWER
        answer = data[:2] + struct.pack("!5H", flags, 1, int(found), 0, 0) + data[12:end]
        if found:
            octets = bytes(int(part) for part in ADDRESS.split("."))
            answer += struct.pack("!3HIH", 0xC00C, 1, 1, 0, 4) + octets
        self._out.sendto(answer, addr)


@contextlib.asynccontextmanager
async def far_away(folder: Path) -> AsyncIterator[FarAway]:
    """``ADDRESS`` is this machine's for as long; a server may listen at it."""
    resolver = folder / "resolv.conf"
    resolver.write_text(f"nameserver {ADDRESS}\noptions timeout:1 attempts:1\n")
    script = f'mount --bind {resolver} /etc/resolv.conf && exec "$@"'
    far = FarAway(("unshare", "-m", "sh", "-c", script, "sh"))
    _ip("link", "add", _LINK, "type", "bridge")
    try:
        _ip("link", "set", _LINK, "up")
        _ip("addr", "add", f"{ADDRESS}/32", "dev", _LINK)
        loop = asyncio.get_running_loop()
        server, _ = await loop.create_datagram_endpoint(
            lambda: _NameServer(far), local_addr=(ADDRESS, 53)
        )
        try:
            yield far
        finally:
            server.close()
    finally:
        with contextlib.suppress(subprocess.CalledProcessError):
            _ip("route", "del", "unreachable", f"{ADDRESS}/32")
        _ip("link", "del", _LINK)


def _ip(*words: str) -> None:
    subprocess.run(["ip", *words], check=True, capture_output=True)
