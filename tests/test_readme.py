"""Everything the README tells people to type is typed here, as it stands there."""

import os
import re
import shlex
import shutil
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

from tests.prepare.test_prepare import ready
from tests.support.configurations import DATA, REHEARSAL
from tests.support.open_services import Services, serving
from tests.support.typed import typed

ROOT = Path(__file__).resolve().parents[1]
TEXT = "\n".join(
    (ROOT / name).read_text(encoding="utf-8")
    for name in ("README.md", "DEVELOPERS.md", "replay/README.md")
)
COMMANDS = sorted(
    {
        line
        for block in re.findall(r"```\n(.*?)```", TEXT, re.DOTALL)
        for line in block.splitlines()
        if line.startswith("groundstation ")
    }
)
PREPARE = [line for line in COMMANDS if line.startswith("groundstation prepare")]
# Without where they write to: what a shell does with a ">" is its own affair.
SHORT = sorted(
    {
        line.partition(" > ")[0]
        for line in COMMANDS
        if line not in PREPARE and not line.startswith("groundstation run")
    }
)
LONG = [line for line in COMMANDS if line.startswith("groundstation run")]

# Stands for the person's own: a rehearsal on a free port, so that nothing outside is needed.
STATION = f"""
{DATA}{REHEARSAL}[[target]]
kind = "terminal"
[web]
port = 0
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copytree(ROOT / "replay", tmp_path / "replay")
    shutil.copytree(ROOT / "config", tmp_path / "config")
    shutil.copytree(ROOT / "groundstation" / "resources", tmp_path / "groundstation" / "resources")
    (tmp_path / "station.toml").write_text(STATION)
    return tmp_path


def environment() -> dict[str, str]:
    here = Path(sys.executable).parent
    return {**os.environ, "PATH": f"{here}:{os.environ.get('PATH', '')}"}


def test_there_are_commands() -> None:
    assert len(SHORT) >= 8
    assert LONG


@pytest.mark.live
@pytest.mark.slow
def test_what_prepare_brings_it_finds_there(folder: Path) -> None:
    """In their order, with stand-ins for whom it asks."""
    with serving(Services(run_utc=time.time() - 3_600.0)) as services:
        ready(services, folder)
        for line in sorted(PREPARE, key=len):
            done = subprocess.run(
                shlex.split(line), cwd=folder, env=environment(), capture_output=True, text=True,
                timeout=240, check=False,
            )  # fmt: skip
            assert done.returncode == 0, done.stderr + done.stdout
    assert "Nothing is missing" in done.stdout


@pytest.mark.parametrize(
    "line",
    # A whole flight takes some seconds.
    [pytest.param(one, marks=[pytest.mark.slow] * (" replay " in one)) for one in SHORT],
)
def test_a_command_works_as_it_stands(line: str, folder: Path) -> None:
    done = typed(*shlex.split(line)[1:], folder=folder)
    assert done.returncode == 0, done.stderr + done.stdout


@pytest.mark.live
@pytest.mark.parametrize("line", LONG)
def test_the_station_runs_as_it_stands(line: str, folder: Path) -> None:
    with subprocess.Popen(
        shlex.split(line),
        cwd=folder,
        env=environment(),
        stderr=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        text=True,
    ) as station:
        assert station.stderr is not None
        told = [station.stderr.readline() for _ in range(5)]
        station.terminate()
        rest = station.stderr.read()
    assert station.returncode == 0, [*told, rest]
    assert any("is running" in one for one in told)


def test_make_run_is_the_rehearsal() -> None:
    plan = subprocess.run(
        ["make", "-n", "run"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert ".venv/bin/groundstation run" in plan.stdout.splitlines()


@pytest.fixture
def default_port_is_free() -> None:
    try:
        urllib.request.urlopen("http://127.0.0.1:8080/healthz", timeout=1.0).close()
    except OSError:
        return
    pytest.skip("something runs on port 8080 here")


@pytest.mark.live
@pytest.mark.slow
@pytest.mark.usefixtures("default_port_is_free")
def test_the_rehearsal_shows_its_page_and_speaks(folder: Path) -> None:
    with subprocess.Popen(
        ["groundstation", "run", "--speed", "200"],
        cwd=folder,
        env={**environment(), "PYTHONUNBUFFERED": "1"},
        stderr=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        text=True,
    ) as station:
        assert station.stdout is not None
        first = station.stdout.readline()
        until = time.monotonic() + 120.0
        page = b""
        while time.monotonic() < until and not page:
            try:
                with urllib.request.urlopen("http://127.0.0.1:8080/", timeout=2.0) as answer:
                    page = answer.read()
            except OSError:
                time.sleep(0.1)
        station.terminate()
    assert station.returncode == 0
    assert first.startswith("Rehearsal: kanalas-1: launched")
    assert b"<html" in page


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md", "CHANGELOG.md"])
def test_no_conflict_is_left_in_it(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    assert re.findall(r"^(?:<{7}|={7}|>{7})(?: .*)?$", text, re.MULTILINE) == []
