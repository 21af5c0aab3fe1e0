"""The whole replay on real flights, scored from outside the project.

The scoring programs stand beside the flights and know nothing of this code: they run the replay
command and compare what it prints with where the payload was found.
"""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.support.as_read import hold, scored
from tests.support.warm import warm

pytestmark = pytest.mark.slow

AS_READ_S = 60
"""The kept words (``tests/alerts/as_read.txt``) are of a fix a minute, as these trackers sent."""


@pytest.fixture(scope="module")
def command(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Without a start of its own for each of some hundred flights."""
    with warm(tmp_path_factory.mktemp("warm")) as found:
        yield found


def _told_as_kept(kept: Path) -> None:
    """What the phone was told on these flights is what was last looked at."""
    for path in sorted(kept.glob("*.jsonl")):
        hold(path.stem, path.read_text("utf-8").splitlines())


# f08 drifts at 28.4 km for 943 s after its highest fix. The program wants its burst told within
# 1003 s, when at one fix in 300 s the fall is not in the data yet.
ALL_BUT_F08 = ",".join(f"f{number:02d}" for number in range(1, 26) if number != 8)


@pytest.mark.parametrize(
    ("every_s", "which"), [(10, ()), (60, ()), (300, ("--names", ALL_BUT_F08))]
)
def test_launch_burst_and_landing_are_told_once_and_in_time(
    shared: Path, tmp_path: Path, command: str, every_s: int, which: tuple[str, ...]
) -> None:
    options = ("--thin", str(every_s), *which)
    told = scored(shared, "score_events.py", "flights", command, tmp_path, *options)
    assert f"{24 if which else 25} of {24 if which else 25} flights told right" in told
    if every_s == AS_READ_S:
        _told_as_kept(tmp_path)


# The careful baseline keeps the winds of the own ascent and scales the last minute's fall rate with
# density; 1.0 is as good as it. 13 balloons: a difference of some hundredths is chance. Where fixes
# are rare the prior of the fall rate decides, and all of these fall near its middle: regions that
# are right for whatever may come hold these too often.
@pytest.mark.parametrize(
    ("every_s", "ratio", "most_90", "most_50"),
    [(10, 0.95, 0.98, 0.65), (60, 0.85, 0.98, 0.65), (300, 0.7, 1.0, 0.8)],
)
def test_landing_estimate_beats_the_careful_baseline(
    shared: Path,
    tmp_path: Path,
    command: str,
    every_s: int,
    ratio: float,
    most_90: float,
    most_50: float,
) -> None:
    score = _landing_score(shared / "flights", tmp_path, command, "--thin", str(every_s))
    assert score["scored"] >= 13
    assert score["causal_bad"] == 0
    assert score["ratio"] <= ratio
    assert score["low"][2] <= 1.0
    assert 0.8 <= score["in90"] <= most_90
    assert 0.4 <= score["in50"] <= most_50


def test_what_falls_in_another_way_is_estimated_too(
    shared: Path, tmp_path: Path, command: str
) -> None:
    """Three radiosondes: one falls two to three times as fast near the ground as aloft, one slower
    than any school flight."""
    score = _landing_score(shared / "radiosondes", tmp_path, command, "--thin", "60")
    assert score["scored"] == 3
    assert score["ratio"] <= 0.85
    assert score["low"][2] <= 1.04
    assert score["in90"] >= 0.8
    _told_as_kept(tmp_path)


def test_a_planned_descent_rate_is_used_well(shared: Path, tmp_path: Path, command: str) -> None:
    score = _landing_score(
        shared / "radiosondes", tmp_path, command, "--thin", "60", "--plan", "0.1"
    )
    assert score["ratio"] <= 0.6
    assert score["in90"] >= 0.8


def _landing_score(flights: Path, tmp_path: Path, command: str, *options: str) -> dict[str, Any]:
    out = tmp_path / "score.json"
    given = (*options, "--json", str(out))
    scored(flights.parent, "score_landing.py", flights.name, command, tmp_path, *given)
    found: dict[str, Any] = json.loads(out.read_text())
    return found
