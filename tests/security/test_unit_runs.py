"""The unit under a real systemd of its own: start, sandbox, watchdog, end."""

import re
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

import pytest

from tests.support.private_systemd import CHECKOUT, UNIT, PrivateSystemd

pytestmark = [pytest.mark.live, pytest.mark.slow]

PATIENCE_S: Final = 240.0
CONFIGURATION: Final = """
[station]
data_dir = "/var/lib/groundstation"
backup_dir = "/media/stick"
[[payload]]
name = "kanalas-1"
[[payload.tracker]]
id = "Q0HAB-11"
[[source]]
name = "datagrams"
kind = "udp"
port = 5555
[source.decoder]
kind = "aprs"
[[target]]
name = "phone"
kind = "apprise"
url = { credential = "phone" }
"""
# As it is, but for the waits: ten seconds before a restart, a minute of the watchdog.
QUICKER: Final = "[Service]\nRestartSec=1\nWatchdogSec=15\n"
GET: Final = (
    "import urllib.request as u; print(u.urlopen('http://127.0.0.1:8080/healthz').read().decode())"
)
SEND: Final = (
    "import socket; socket.socket(type=socket.SOCK_DGRAM).sendto("
    "b'Q0HAB-11>APZ001:!4706.00N/02018.00EO/A=002953', ('127.0.0.1', 5555))"
)


@pytest.fixture(scope="module")
def inside(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PrivateSystemd]:
    with PrivateSystemd(tmp_path_factory.mktemp("systemd") / "root") as manager:
        manager.write("/etc/groundstation/station.toml", CONFIGURATION)
        manager.write("/etc/groundstation/phone", "json://127.0.0.1:1/")
        manager.write(f"/etc/systemd/system/{UNIT}.d/quicker.conf", QUICKER)
        manager.run("chmod", "1777", "/media/stick")
        done = manager.run(
            "/opt/station/bin/groundstation",
            "install",
            "--config",
            "/etc/groundstation/station.toml",
        )
        told = manager.run("journalctl", "--no-pager", "-u", UNIT).stdout
        assert f"done: systemctl enable --now {UNIT}" in done.stdout, (done, told)
        yield manager


def until(wanted: Callable[[], bool], inside: PrivateSystemd) -> None:
    deadline = time.monotonic() + PATIENCE_S
    while not wanted():
        if time.monotonic() > deadline:
            pytest.fail(inside.run("journalctl", "--no-pager", "-n", "40").stdout)
        time.sleep(0.1)


def up(inside: PrivateSystemd) -> bool:
    return inside.shown("SubState") == "running"


def test_nothing_of_the_machine_can_be_written_there(inside: PrivateSystemd) -> None:
    for path in ("/usr/x", f"{CHECKOUT}/x", "/proc/sys/kernel/pid_max"):
        assert inside.run("sh", "-c", f"echo 1 > {path}").returncode != 0, path


def test_it_says_that_it_is_ready_and_takes_packets(inside: PrivateSystemd) -> None:
    """``install`` came back, so READY=1 was said: the unit is of the type notify."""
    assert up(inside)
    python = "/opt/station/bin/python"
    assert inside.run(python, "-c", GET).stdout.strip() == "ok"
    inside.run(python, "-c", SEND)
    kept = "/var/lib/private/groundstation/station.db"
    count = (
        f"import sqlite3; kept = sqlite3.connect('{kept}');"
        " print(kept.execute('SELECT count(*) FROM fix').fetchone()[0])"
    )
    until(lambda: inside.run(python, "-c", count).stdout.strip() == "1", inside)
    assert inside.run("stat", "-c", "%a %U", kept).stdout.strip() == "600 groundstation"


def test_its_sandbox_holds_and_the_stick_is_its_own(inside: PrivateSystemd) -> None:
    """From its own view of the files, as its own user."""
    until(lambda: up(inside), inside)
    main = inside.shown("MainPID")
    user = inside.run("stat", "-c", "%u", f"/proc/{main}").stdout.strip()
    assert int(user) >= 61_184, "a dynamic user (systemd.exec(5))"

    def writes(path: str) -> bool:
        own = ("nsenter", "-t", main, "-m", "-S", user, "-G", user, "--")
        return inside.run(*own, "sh", "-c", f"echo x > {path}").returncode == 0

    assert writes("/media/stick/copy")
    assert writes("/var/lib/groundstation/own")
    assert writes("/tmp/own")
    assert not writes("/etc/groundstation/own")
    assert not writes("/opt/station/own")
    assert not writes("/var/lib/own")
    assert inside.run("ls", "/tmp/own").returncode != 0, "its /tmp is its own"
    status = inside.run("cat", f"/proc/{main}/status").stdout
    assert re.search(r"CapEff:\s+0+$", status, re.MULTILINE)
    assert "NoNewPrivs:\t1" in status
    assert "Seccomp:\t2" in status


def test_it_is_back_after_a_kill_and_after_it_hung(inside: PrivateSystemd) -> None:
    for signal, result in (("KILL", "signal"), ("STOP", "watchdog")):
        main, begun = inside.shown("MainPID"), int(inside.shown("NRestarts"))
        inside.run("systemctl", "kill", "--kill-whom=main", f"--signal={signal}", UNIT)
        until(lambda n=begun: int(inside.shown("NRestarts")) > n and up(inside), inside)  # type: ignore[misc]
        assert inside.shown("MainPID") != main
        told = inside.run("journalctl", "--no-pager", "-u", UNIT).stdout
        assert f"Failed with result '{result}'" in told


def test_it_ends_in_order_and_its_data_stay(inside: PrivateSystemd) -> None:
    done = inside.run("/opt/station/bin/groundstation", "install", "--remove")
    assert "removed; the data in /var/lib/groundstation stay" in done.stdout, done
    assert inside.run("systemctl", "is-active", UNIT).stdout.strip() == "inactive"
    told = inside.run("journalctl", "--no-pager", "-u", UNIT).stdout
    assert "Deactivated successfully" in told
    assert Path(f"/proc/{inside._inner}/root/var/lib/private/groundstation/station.db").is_file()
