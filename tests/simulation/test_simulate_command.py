"""``groundstation simulate``, and the recordings in the project that it made."""

import itertools
import json
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from groundstation.commands.simulate import simulate
from groundstation.errors import ConfigurationError
from groundstation.recordings.read_any import read_recording
from groundstation.records import Report

ROOT = Path(__file__).resolve().parents[2]
COMMANDS = [
    line.removeprefix("groundstation simulate ")
    for line in (ROOT / "replay" / "README.md").read_text(encoding="utf-8").splitlines()
    if line.startswith("groundstation simulate ")
]


def made_by(command: str) -> list[str]:
    """The files that it writes."""
    words = shlex.split(command)
    pairs = itertools.pairwise(words)
    return [value for name, value in pairs if name in {"--out", "--winds"}]


@pytest.fixture
def runner(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> CliRunner:
    monkeypatch.chdir(tmp_path)
    return CliRunner()


def test_there_are_commands_for_all_bundled_recordings() -> None:
    made = {path for command in COMMANDS for path in made_by(command)}
    bundled = [
        path
        for folder in (ROOT / "replay", ROOT / "groundstation" / "resources")
        for path in folder.iterdir()
        if path.suffix in {".csv", ".txt"} and path.name != "commit.txt"
    ]
    assert made == {str(path.relative_to(ROOT)) for path in bundled}


@pytest.mark.parametrize("command", COMMANDS)
def test_bundled_recordings_can_be_made_again(command: str, runner: CliRunner) -> None:
    words = shlex.split(command)
    Path(words[-1]).parent.mkdir(parents=True)
    result = runner.invoke(simulate, words, catch_exceptions=False)
    assert result.exit_code == 0
    for where in made_by(command):
        bundled = (ROOT / where).read_bytes()
        assert Path(where).read_bytes() == bundled
        assert b"invented" in bundled.lower()


@pytest.mark.parametrize("command", COMMANDS)
def test_header_names_the_command(command: str) -> None:
    words = shlex.split(command)
    with (ROOT / words[-1]).open(encoding="utf-8", errors="replace") as file:
        line = next(line for line in file if line.startswith("# Made by: "))
    _, _, told = line.partition("groundstation simulate ")
    paths = {*made_by(command)} | {"--out", "--winds"}
    assert set(shlex.split(told.replace("18000m", "18km"))) == set(words) - paths


@pytest.mark.parametrize("command", COMMANDS)
def test_bundled_recordings_are_read(command: str) -> None:
    path = ROOT / shlex.split(command)[-1]
    recording = read_recording(path)
    read = [record for frame in recording.frames for record in recording.decode(frame)]
    fixes = [record for record in read if isinstance(record, Report)]
    assert len(fixes) > (15 if "messenger" in path.name else 400)
    assert recording.trackers == ("Q0HAB-11",)
    assert path.stat().st_size < 150_000


def test_the_same_to_stdout_and_to_a_file(runner: CliRunner) -> None:
    words = ["--seed", "9", "--form", "nmea"]
    shown = runner.invoke(simulate, words, catch_exceptions=False)
    runner.invoke(simulate, [*words, "--out", "a.nmea"], catch_exceptions=False)
    assert shown.stdout_bytes == Path("a.nmea").read_bytes()
    assert "fixes heard" in shown.stderr


def test_options_are_flown(runner: CliRunner) -> None:
    words = shlex.split(
        "--start 2026-06-01T10:00:00+02:00 --burst 82000ft --descent 5m/s --interval 2min"
        " --form json --truth truth.json --out a.json"
    )
    runner.invoke(simulate, words, catch_exceptions=False)
    truth = json.loads(Path("truth.json").read_bytes())
    assert truth["launch"] == "2026-06-01T08:00:00Z"
    assert truth["top_m"] == pytest.approx(82_000 * 0.3048, abs=0.1)
    assert truth["descent_rate_ms"] == 5.0
    times = [json.loads(line)["time"] for line in Path("a.json").read_bytes().splitlines()]
    assert len(set(times)) < 100


@pytest.mark.parametrize(
    ("words", "say"),
    [
        (["--interval", "60"], "has not a unit of time"),
        (["--interval", "60kg"], "has not a unit of time"),
        (["--burst", "-3km"], "not more than nothing"),
        (["--start", "yesterday"], "is not a time such as"),
        (["--start", "0001-01-01"], "not in the years"),
        (["--profile", "upward"], "is not one of"),
        (["--seed", "-1"], "x>=0"),
    ],
)
def test_wrong_options_are_refused(words: list[str], say: str, runner: CliRunner) -> None:
    result = runner.invoke(simulate, words)
    assert result.exit_code == 2
    assert say in result.stderr


@pytest.mark.parametrize(
    ("words", "say"),
    [
        (["--burst", "90km"], "--burst must lie between"),
        (["--descent", "90m/s"], "--descent must lie between"),
        (["--interval", "5h"], "--interval must lie between"),
        (["--out", "no/such/folder.txt"], "cannot write no/such/folder.txt"),
    ],
)
def test_values_that_cannot_be_flown(words: list[str], say: str, runner: CliRunner) -> None:
    result = runner.invoke(simulate, words)
    assert isinstance(result.exception, ConfigurationError)
    assert say in str(result.exception)


def test_help_has_an_example(runner: CliRunner) -> None:
    result = runner.invoke(simulate, ["--help"])
    assert "Example" in result.stdout
    assert "hard" in result.stdout
