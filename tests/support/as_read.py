"""What phones are told on whole flights, as it was last looked at: ``tests/alerts/as_read.txt``.

One line an alert: flight, title, and the first 110 characters of the body. These hold no
coordinates, and no names of towns either: where others flew is theirs. After a change that is
meant, ``python -m tests.support.as_read`` writes it anew; then read it as who gets it would.
"""

import json
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path

import pytest

from tests.conftest import shared_folder
from tests.support.typed import typed
from tests.support.warm import warm

KEPT = Path(__file__).parents[1] / "alerts" / "as_read.txt"
REPLAY = Path(__file__).resolve().parents[2] / "replay"
INVENTED = ("normal.csv", "hard.txt")
SHOWN = 110
SHARE, LAST_DIGITS = 0.1, 3.0
"""A number may differ by a tenth, or by three of its last digit: processors add in other orders, so
an estimate is not the same to the last bit everywhere, and a change of it by a hair is no change of
words (own choices)."""

NUMBER = re.compile(r"\d\d:\d\d|\d[\d,]*(?:\.\d+)?")
POINT = re.compile(r"\b[NESW]{1,3}\b")
MINUTES = 3
"""So many minutes a time of day may differ, for the same reason."""


TOWN = re.compile(r"(?<= of )(?!its |base)\w[^\n(:,;.]*?(?= \(|[:,;.\n]|$)")


def lines_of(name: str, told: Iterable[str]) -> list[str]:
    """From the lines of ``replay --json``."""
    alerts = [one for one in map(json.loads, told) if one["kind"] == "alert"]
    return [
        f"{name} | {one['title']} | {TOWN.sub('a town', one['body'])[:SHOWN]!r}" for one in alerts
    ]


def hold(name: str, told: Iterable[str]) -> None:
    """Hold what is told of a flight against what is kept of it."""
    now = lines_of(name, told)
    before = [one for one in KEPT.read_text("utf-8").splitlines() if one.startswith(f"{name} | ")]
    assert [words_of(one) for one in now] == [words_of(one) for one in before]
    for new, old in zip(now, before, strict=True):
        assert re.search(r"\d\.\d{4}", new) is None, new
        assert all(map(_alike, _numbers(new), _numbers(old))), f"{new}\nwas\n{old}"


def words_of(line: str) -> str:
    """Without numbers and points of the compass. Numbers of other lengths push the end of what is
    shown to and fro, so it counts as far as it is there in any case."""
    name, title, body = line.split(" | ")
    plain = POINT.sub("@", NUMBER.sub("#", body))
    return " | ".join((name, POINT.sub("@", NUMBER.sub("#", title)), plain[:80]))


def _numbers(line: str) -> list[str]:
    _, title, body = line.split(" | ")
    # The last one may be cut in two.
    return [*NUMBER.findall(title), *NUMBER.findall(body)[:-1]]


def _alike(new: str, old: str) -> bool:
    if ":" in new and ":" in old:
        now, then = (60 * int(one[:2]) + int(one[3:]) for one in (new, old))
        return (now - then + MINUTES) % 1440 <= 2 * MINUTES
    a, b = (float(one.replace(",", "")) for one in (new, old))
    decimals = max(len(one.partition(".")[2]) for one in (new, old))
    return abs(a - b) <= max(SHARE * max(a, b), LAST_DIGITS * 10.0**-decimals)


def scored(
    shared: Path, tool: str, folder: str, command: str, kept: Path | None, *options: str
) -> str:
    """What a program of the scorers prints; what each replay tells is left in ``kept``."""
    program = shared / "tools" / tool
    if not program.is_file():
        pytest.skip(f"no {tool} beside the flights")
    done = subprocess.run(
        [sys.executable, str(program), str(shared / folder), command, *options],
        env=os.environ if kept is None else {**os.environ, "KEPT_IN": str(kept)},
        capture_output=True, text=True, check=False, timeout=580,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def invented(name: str) -> list[str]:
    done = typed("replay", "--json", REPLAY / name)
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def write() -> None:
    lines = [line for name in INVENTED for line in lines_of(name, invented(name))]
    shared = shared_folder()
    assert shared is not None
    with tempfile.TemporaryDirectory() as folder, warm(Path(folder)) as command:
        kept = Path(folder)
        scored(shared, "score_events.py", "flights", command, kept, "--thin", "60")
        scored(shared, "score_landing.py", "radiosondes", command, kept, "--thin", "60")
        for path in sorted(kept.glob("*.jsonl")):
            lines += lines_of(path.stem, path.read_text("utf-8").splitlines())
    KEPT.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    write()
