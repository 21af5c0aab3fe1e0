"""The check command against real sockets, a real disk and a real HTTP target."""

import socket
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest

from groundstation.config import PayloadSettings
from groundstation.errors import ConfigurationError
from groundstation.flight.settings import PlanSettings, TrackerSettings
from groundstation.jobs.check import check_all, look_at_clock, look_at_disk, look_at_plan
from tests.support.configurations import DATA, REHEARSAL
from tests.support.mosquitto import free_port
from tests.support.typed import typed

CHECKED = (
    DATA
    + REHEARSAL
    + """[[source]]
name = "line"
kind = "tcp"
host = "127.0.0.1"
port = {line}
[source.decoder]
kind = "aprs"
[[target]]
name = "phone"
kind = "apprise"
url = {{ env = "PHONE" }}
[web]
port = {web}
"""
)


@pytest.fixture
def receiver() -> Iterator[tuple[int, list[bytes]]]:
    got: list[bytes] = []

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            got.append(self.rfile.read(int(self.headers["Content-Length"])))
            self.send_response(200)
            self.end_headers()

        def log_message(self, *_: object) -> None:
            pass

    with HTTPServer(("127.0.0.1", 0), Handler) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield server.server_port, got
        server.shutdown()
        thread.join()


GREETING = b"# aprs server, welcome\r\nQ0XYZ>APZKAN:>only a status\r\n"


@pytest.fixture(params=[b"", GREETING], ids=["at once", "after a greeting"])
def line_server(request: pytest.FixtureRequest) -> Iterator[int]:
    said_first: bytes = request.param
    with socket.create_server(("127.0.0.1", 0)) as server:

        def talk() -> None:
            try:
                while True:
                    peer, _ = server.accept()
                    with peer:
                        peer.sendall(said_first)
                        peer.sendall(b"Q0HAB-11>APZKAN:!4706.00N/02018.00EO\r\n")
                        peer.recv(100)
            except OSError:
                pass

        thread = threading.Thread(target=talk, daemon=True)
        thread.start()
        yield server.getsockname()[1]
        server.shutdown(socket.SHUT_RDWR)
        thread.join(60)


def checked(tmp_path: Path, line: int, web: int, phone: int, *, send: bool) -> tuple[bool, str]:
    file = tmp_path / "station.toml"
    file.write_text(CHECKED.format(line=line, web=web))
    said: list[str] = []
    env = {"PHONE": f"json://127.0.0.1:{phone}/hidden-token"}
    passed = check_all(file, env, send=send, wait_s=60.0, say=said.append)
    return passed, "\n".join(said)


def test_all_is_well(tmp_path: Path, receiver: tuple[int, list[bytes]], line_server: int) -> None:
    phone, got = receiver
    passed, said = checked(tmp_path, line_server, 0, phone, send=True)
    assert passed, said
    assert "FAIL" not in said
    for what in ("configuration", "disk", "clock", "page", "source recorded", "source line"):
        assert f"ok    {what}: " in said
    assert "ok    plan of kanalas-1: no descent rate; landing estimates from above 5 km" in said
    assert "ok    target phone: it took a test message" in said
    assert len(got) == 1
    assert b"Nothing has happened" in got[0]
    assert "hidden-token" not in said


def test_a_tracker_that_no_payload_has_fails_with_the_lines_to_add(
    tmp_path: Path, line_server: int
) -> None:
    file = tmp_path / "station.toml"
    file.write_text(CHECKED.format(line=line_server, web=0).replace("Q0HAB-11", "Q0HAB-1"))
    env = {"PHONE": "json://127.0.0.1:1/hidden-token"}
    # It listens to the end for ones of our own; on a slow machine nothing comes in a second.
    for wait_s in (1.0, 5.0, 25.0):
        said: list[str] = []
        assert not check_all(file, env, send=False, wait_s=wait_s, say=said.append)
        [line] = [one for one in said if "source line" in one]
        if "Q0HAB-11" in line:
            break
    assert "nothing came from your trackers, but Q0HAB-11 47.10000, 20.30000" in line
    assert "[[payload.tracker]]" in line
    assert 'id = "Q0HAB-11"' in line


def test_what_fails_is_said(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        web = taken.getsockname()[1]
        passed, said = checked(tmp_path, free_port(), web, free_port(), send=True)
    assert not passed
    assert f"FAIL  page: 127.0.0.1:{web} is not to be had" in said
    assert "FAIL  source line: " in said
    assert "FAIL  target phone: no connection to the service" in said
    assert "ok    source recorded: " in said
    assert "hidden-token" not in said


def test_nothing_is_sent_when_not_wanted(
    tmp_path: Path, receiver: tuple[int, list[bytes]], line_server: int
) -> None:
    phone, got = receiver
    passed, said = checked(tmp_path, line_server, 0, phone, send=False)
    assert passed, said
    assert got == []


def test_a_wrong_configuration_ends_it(tmp_path: Path) -> None:
    with pytest.raises(ConfigurationError, match="cannot read"):
        check_all(tmp_path / "none.toml", {}, send=False, wait_s=1.0, say=print)


@pytest.mark.parametrize(
    ("rate", "sd", "words"),
    [(5.2, 0.4, "falls at 5.2 m/s near the ground, known to 8 %"), (5.2, 1.8, "helps little")],
)
def test_how_well_the_fall_is_planned_is_said(rate: float, sd: float, words: str) -> None:
    plan = PlanSettings(descent_rate_ms=rate, descent_rate_sd_ms=sd)
    payload = PayloadSettings(name="kanalas-1", tracker=(TrackerSettings(id="A"),), plan=plan)
    assert words in look_at_plan(payload)


def test_a_flight_file_tells_how_it_falls() -> None:
    flight = Path(__file__).parents[2] / "config" / "flight.toml"
    payload = PayloadSettings(name="kanalas-1", tracker=(TrackerSettings(id="A"),), flight=flight)
    assert "m/s near the ground, known to" in look_at_plan(payload)


def test_a_disk_that_will_be_made(tmp_path: Path) -> None:
    assert "will be made" in look_at_disk(tmp_path / "a" / "b")
    assert not (tmp_path / "a").exists()


def test_the_clock_is_asked() -> None:
    assert "synchronised" in look_at_clock()


@pytest.mark.slow
def test_the_maps_files_are_looked_at(tmp_path: Path) -> None:
    good = tmp_path / "good.geojson"
    good.write_text('{"features": []}')
    station = (
        '[station]\ndata_dir = "d"\n[web]\nport = 0\n[[payload]]\nname = "x"\n[[payload.tracker]]\n'
        'id = "Q0HAB-11"\n[[source]]\nname = "r"\nkind = "recording"\n'
        'path = "resource:rehearsal.txt"\n[[target]]\nkind = "terminal"\n[map]\n'
    )
    for more, says in (
        ('tiles = ""\nhazards = "good.geojson"', "ok    map: 0 hazards"),
        ('folder = "maps"', "FAIL  map: "),
        ('hazards = "none.geojson"', "FAIL  map: "),
        ("", "ok    map: tiles from https://tile.openstreetmap.org"),
        ('tiles = ""', "ok    map: none is given"),
    ):
        file = tmp_path / "station.toml"
        file.write_text(station + more + "\n")
        done = typed("check", "--config", file, "--no-send", "--wait", "0.1")
        assert says in done.stdout, done.stdout + done.stderr
