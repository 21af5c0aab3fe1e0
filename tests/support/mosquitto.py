"""A real Mosquitto on a free loopback port, to be stopped, killed and started again."""

import os
import random
import shutil
import signal
import socket
import subprocess
import time
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self

import pytest

# Not the one that a test may seed: other tests look for ports at the same time.
CHANCE = random.SystemRandom()
START_LIMIT_S = 240.0


class Mosquitto:
    """The broker with its data in ``folder``; the port stays the same through restarts.

    Skips the test where Mosquitto is not installed, and fails it where the variable CI is set.
    With ``username`` and ``password`` nobody else may come in. With ``tls`` it proves itself by
    a certificate for 127.0.0.1, which is also the authority to trust: ``ca_file``. With
    ``client_certificates`` it takes only who has ``client_cert`` and ``client_key``; with
    ``websockets`` its port speaks that.
    """

    def __init__(
        self,
        folder: Path,
        *,
        username: str = "",
        password: str = "",
        tls: bool = False,
        client_certificates: bool = False,
        websockets: bool = False,
        address: str = "127.0.0.1",
        port: int = 0,
    ) -> None:
        program = shutil.which("mosquitto", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
        if program is None:
            missing = "Mosquitto is not installed"
            if os.environ.get("CI"):
                pytest.fail(missing)
            pytest.skip(missing)
        self._program = program
        self._process: subprocess.Popen[bytes] | None = None
        self.port = port or free_port()
        self.address = address
        folder.mkdir(parents=True, exist_ok=True)
        self._log = folder / "mosquitto.log"
        lines = [
            f"listener {self.port} {address}",
            "persistence true",
            f"persistence_location {folder}/",
            "autosave_interval 1",
            "max_queued_messages 0",
            "log_type all",
        ]
        if os.geteuid() == 0:
            lines.append("user root")
        if username:
            passwords = folder / "passwords"
            subprocess.run(
                ["mosquitto_passwd", "-c", "-b", str(passwords), username, password], check=True
            )
            lines += ["allow_anonymous false", f"password_file {passwords}"]
        else:
            lines.append("allow_anonymous true")
        self.ca_file = folder / "certificate.pem"
        if tls:
            key = folder / "key.pem"
            make_certificate(self.ca_file, key)
            lines += [f"certfile {self.ca_file}", f"keyfile {key}"]
        self.client_cert, self.client_key = folder / "client.pem", folder / "client-key.pem"
        if client_certificates:
            make_certificate(self.client_cert, self.client_key)
            lines += [f"cafile {self.client_cert}", "require_certificate true"]
        if websockets:
            # With no other listener it does not start (2.0.11).
            lines[0] = f"listener {free_port()} {address}"
            lines += [f"listener {self.port} {address}", "protocol websockets"]
        self._configuration = folder / "mosquitto.conf"
        self._configuration.write_text("\n".join(lines) + "\n")

    def start(self) -> None:
        """Start it and wait until it takes connections."""
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(
                [self._program, "-c", str(self._configuration)], stdout=log, stderr=log
            )
        until = time.monotonic() + START_LIMIT_S
        while time.monotonic() < until:
            if self._process.poll() is not None:
                break
            try:
                socket.create_connection((self.address, self.port), timeout=10.0).close()
            except OSError:
                time.sleep(0.02)
            else:
                return
        pytest.fail(f"Mosquitto did not start:\n{self.log()}")

    def terminate(self) -> None:
        """Stop it in order: it saves what it holds."""
        if self._process is not None:
            self._process.terminate()
            self._process.wait(START_LIMIT_S)
            self._process = None

    def kill(self) -> None:
        """End it as a power cut would: it loses what it has not saved."""
        if self._process is not None:
            self._process.kill()
            self._process.wait(START_LIMIT_S)
            self._process = None

    def freeze(self) -> None:
        """Keep the connections and answer nothing, until killed."""
        if self._process is not None:
            self._process.send_signal(signal.SIGSTOP)

    def log(self) -> str:
        return self._log.read_text(errors="replace")

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.kill()


def make_certificate(certificate: Path, key: Path) -> None:
    """A certificate for 127.0.0.1 that signs itself, and its key."""
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2",
         "-subj", "/CN=127.0.0.1", "-addext", "subjectAltName=IP:127.0.0.1",
         "-out", str(certificate), "-keyout", str(key)],
        check=True, capture_output=True,
    )  # fmt: skip


def free_port() -> int:
    """A loopback port that nobody listens on, and that no connection gets by chance before it is
    used: it lies below those that the system deals out."""
    dealt = Path("/proc/sys/net/ipv4/ip_local_port_range").read_text().split()
    while True:
        port = CHANCE.randrange(10_000, max(20_000, int(dealt[0])))
        with socket.socket() as probe, suppress(OSError):
            probe.bind(("127.0.0.1", port))
            return port
