"""What the phone says on recorded and invented flights, as it is: a change of words is seen.

Kept are titles and the first 110 characters of the bodies, which hold no coordinates. After a
change that is meant: ``python -m tests.alerts.test_real_flights_as_read``.
"""

import re
from pathlib import Path

import pytest

from groundstation.alerts.wording import WordingSettings
from groundstation.flight.alert_records import Message
from groundstation.geo.places import known_places
from groundstation.recordings.read_any import read_recording
from groundstation.station.replay import make_do, replay
from tests.conftest import shared_folder

KEPT = Path(__file__).with_name("as_read.txt")
INVENTED = ("normal.csv", "hard.txt")
REAL = ("f03", "f05", "f08", "f13", "f19")
SHOWN = 110
REPLAY = Path(__file__).resolve().parents[2] / "replay"


def lines_of(name: str, path: Path) -> list[str]:
    recording = read_recording(path)
    told = replay(recording, make_do(recording), WordingSettings(namer=known_places().nearest))
    found = [one for _, one in told if isinstance(one, Message)]
    return [f"{name} | {one.title} | {one.body[:SHOWN]!r}" for one in found]


def kept(name: str) -> list[str]:
    lines = KEPT.read_text(encoding="utf-8").splitlines()
    return [line for line in lines if line.startswith(f"{name} | ")]


def words_of(line: str) -> str:
    """Without its numbers, which every change of the estimate moves a little, and without its end,
    which they push to and fro."""
    name, title, body = line.split(" | ")
    return " | ".join((name, *(re.sub(r"\d[\d.,:]*( km| m)?", "#", x)[:80] for x in (title, body))))


def held(name: str, path: Path) -> None:
    now = lines_of(name, path)
    assert [words_of(one) for one in now] == [words_of(one) for one in kept(name)]
    for line in now:
        assert re.search(r"\d\.\d{4}", line) is None, line


@pytest.mark.parametrize("name", INVENTED)
def test_an_invented_flight_is_told_as_kept(name: str) -> None:
    held(name, REPLAY / name)


@pytest.mark.slow
@pytest.mark.parametrize("name", REAL)
def test_a_recorded_flight_is_told_as_kept(name: str, shared: Path) -> None:
    held(name, packets(shared, name))


def packets(folder: Path, name: str) -> Path:
    return folder / "flights" / "packets" / f"{name}.txt"


if __name__ == "__main__":
    kept_lines = [line for name in INVENTED for line in lines_of(name, REPLAY / name)]
    real = shared_folder()
    assert real is not None
    for flight in REAL:
        kept_lines += lines_of(flight, packets(real, flight))
    KEPT.write_text("\n".join(kept_lines) + "\n", encoding="utf-8")
