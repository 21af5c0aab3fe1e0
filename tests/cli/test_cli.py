"""The command line, as a person starts it."""

import os
import re
import signal
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from groundstation.errors import InputFileError
from groundstation.jobs.run import rehearse_or_run
from tests.support.configurations import DATA, REHEARSAL
from tests.support.typed import typed

GROUNDSTATION = (sys.executable, "-m", "groundstation")
COMMANDS = [
    "plan", "winds", "run", "replay", "simulate", "watch", "logbook", "debrief", "films", "export",
    "check", "install", "token",
]  # fmt: skip
REPLAY = Path(__file__).resolve().parents[2] / "replay"


def test_help_names_every_command_with_an_example() -> None:
    """In a process of its own, as a person starts it."""
    done = subprocess.run(
        [*GROUNDSTATION, "--help"], capture_output=True, text=True, timeout=600, check=False
    )
    assert done.returncode == 0
    for word in ("run", "replay", "simulate", "check", "Example:"):
        assert word in done.stdout


@pytest.mark.parametrize("command", COMMANDS)
def test_each_command_has_help_with_an_example(command: str) -> None:
    done = typed(command, "--help")
    assert done.returncode == 0
    assert "Example" in done.stdout
    assert f"groundstation {command}" in done.stdout


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import sys\nfrom groundstation.cli import cli\n"
        "cli.main(['--help'], standalone_mode=False)\n"
        "print(sorted({'numpy', 'aiohttp', 'asyncio', 'sqlite3'} & sys.modules.keys()))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=600, check=True
    )
    assert done.stdout.splitlines()[-1] == "[]"


def test_version() -> None:
    done = typed("--version")
    assert done.returncode == 0
    assert re.fullmatch(
        r"groundstation \d+\.\d+\.\d+ \(commit [0-9a-f]{12}(, changed since)?\)\n", done.stdout
    )


@pytest.mark.slow
def test_an_installed_wheel_knows_its_commit(tmp_path: Path) -> None:
    """Away from the checkout, where no git tells it."""
    root = Path(__file__).resolve().parents[2]
    source = tmp_path / "source"
    subprocess.run(["git", "clone", "-q", "--depth=1", f"file://{root}", source], check=True)
    subprocess.run(
        [sys.executable, "-c",
         "import sys, setuptools.build_meta as build; build.build_wheel(sys.argv[1])", tmp_path],
        cwd=source, check=True, capture_output=True,
    )  # fmt: skip
    [wheel] = tmp_path.glob("*.whl")
    done = subprocess.run(
        [sys.executable, "-P", "-c", "from groundstation.cli import main; main()", "--version"],
        cwd=tmp_path, env=os.environ | {"PYTHONPATH": str(wheel)},
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    head = subprocess.run(
        ["git", "rev-parse", "--short=12", "HEAD"],
        cwd=source, capture_output=True, text=True, check=True,
    ).stdout.strip()  # fmt: skip
    assert done.stdout.endswith(f"(commit {head})\n")


def test_an_unknown_command() -> None:
    done = typed("rn")
    assert done.returncode == 2
    assert "there is no command 'rn'; known are plan, " in done.stderr
    assert " run, replay, simulate, tell, watch, logbook" in done.stderr


@pytest.mark.parametrize(
    ("words", "code", "expected"),
    [
        (("check", "--config", "none.toml"), 2, "cannot read the configuration none.toml"),
        (("replay", "none.csv"), 3, "cannot read none.csv"),
        (("run", "--as-if", "yesterday"), 2, "is not a time such as"),
        (("run", "--speed", "0"), 2, "--speed"),
        (("run", "--recording", "flight.txt"), 2, "--recording is flown with a station's --config"),
    ],
)
def test_errors_are_sentences(words: tuple[str, ...], code: int, expected: str) -> None:
    done = typed(*words)
    assert done.returncode == code
    assert expected in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""


def test_debug_shows_where() -> None:
    done = typed("--debug", "replay", "none.csv")
    assert done.returncode == 3
    assert "Traceback" in done.stderr


def free_port() -> int:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        port: int = taken.getsockname()[1]
        return port


STATION = DATA + REHEARSAL + '[[target]]\nkind = "terminal"\n[web]\nport = {port}\n'

Start = Callable[..., subprocess.Popen[str]]


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Start]:
    begun = []

    def started(text: str, *words: str) -> subprocess.Popen[str]:
        file = tmp_path / "station.toml"
        file.write_text(text)
        process = subprocess.Popen(
            [*GROUNDSTATION, "run", "--config", str(file), *words],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
        begun.append(process)
        return process

    yield started
    for process in begun:
        process.kill()
        process.wait()
        for pipe in (process.stdout, process.stderr):
            if pipe is not None:
                pipe.close()


@pytest.mark.live
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_run_serves_speaks_and_stops_cleanly(
    start: Start, tmp_path: Path, number: signal.Signals
) -> None:
    port = free_port()
    process = start(STATION.format(port=port), "--speed", "400", "--log-level", "warning")
    assert process.stdout is not None
    assert process.stderr is not None
    greeting = [process.stderr.readline() for _ in range(6)]
    assert "is running. Ctrl-C stops it." in greeting[0]
    assert "400 times real time" in greeting[1]
    assert f"http://127.0.0.1:{port}" in greeting[2]
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/api/state", timeout=240) as answer:
        assert b"kanalas-1" in answer.read()
    assert "Rehearsal: kanalas-1" in process.stdout.readline()
    process.send_signal(number)
    _, errors = process.communicate(timeout=600)
    assert process.returncode == 0, errors
    assert "Traceback" not in errors
    assert (tmp_path / "data" / "rehearsal.db").is_file()
    assert not (tmp_path / "data" / "station.db").exists()


@pytest.mark.live
def test_a_port_that_is_taken_is_said_in_one_sentence(start: Start) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        process = start(STATION.format(port=port), "--log-level", "warning")
        _, errors = process.communicate(timeout=600)
    assert process.returncode == 2
    assert str(port) in errors
    assert "Traceback" not in errors


LIVE = STATION.replace(
    'kind = "recording"\npath = "resource:rehearsal.txt"',
    'kind = "tcp"\nhost = "127.0.0.1"\nport = 9\n[source.decoder]\nkind = "aprs"',
)


@pytest.mark.live
def test_a_station_of_ones_own_rehearses_with_a_recording(start: Start, tmp_path: Path) -> None:
    """As it is, with its own targets and none of its sources."""
    flight = str(tmp_path / "flight.csv")
    assert typed("simulate", "--out", flight).returncode == 0
    process = start(LIVE.format(port=0), "--recording", flight, "--speed", "400")
    assert process.stdout is not None
    assert "Rehearsal: kanalas-1" in process.stdout.readline()
    process.terminate()
    _, errors = process.communicate(timeout=600)
    assert "source     recording (recording)" in errors


def test_a_recording_of_anothers_tracker_is_refused(tmp_path: Path) -> None:
    flight = str(tmp_path / "flight.csv")
    assert typed("simulate", "--out", flight).returncode == 0
    file = tmp_path / "station.toml"
    file.write_text(LIVE.replace("Q0HAB-11", "Q0XYZ-9").format(port=0))
    with pytest.raises(InputFileError) as refused:
        rehearse_or_run(file, None, None, {}, recording=Path(flight))
    errors = str(refused.value)
    assert "holds Q0HAB-11, and" in errors
    assert "has payloads with Q0XYZ-9 only; add the tracker to a payload" in errors
    assert "leave" not in errors


def test_speed_needs_a_rehearsal(start: Start) -> None:
    process = start(LIVE.format(port=0), "--speed", "2")
    _, errors = process.communicate(timeout=600)
    assert process.returncode == 2
    assert "--speed is for rehearsals; give --recording FILE or --as-if TIME with it" in errors


def test_replay_to_a_closed_pipe_is_no_error() -> None:
    with subprocess.Popen(
        [*GROUNDSTATION, "replay", str(REPLAY / "normal.csv"), "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.readline()
        process.stdout.close()
        assert "Traceback" not in process.stderr.read()
