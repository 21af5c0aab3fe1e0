"""The plan command, run on a flight file that differs from the example."""

import json
import subprocess
from pathlib import Path
from typing import Any

from tests.support.typed import typed

EXAMPLE = Path(__file__).resolve().parents[2] / "config" / "flight.toml"
LEVELS = [(0.0, 270.0, 4.0), (3e3, 265.0, 10.0), (11e3, 270.0, 25.0), (34e3, 280.0, 12.0)]


def run(*words: str | Path) -> subprocess.CompletedProcess[str]:
    return typed("plan", *words)


def told(*words: str | Path) -> dict[str, Any]:
    done = run(*words, "--json")
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def changed(folder: Path, *changes: tuple[str, str]) -> Path:
    text = EXAMPLE.read_text(encoding="utf-8")
    for before, after in changes:
        assert before in text, before
        text = text.replace(before, after)
    path = folder / "flight.toml"
    path.write_text(text, encoding="utf-8")
    return path


def winds(folder: Path, top_m: float = 34_000.0, at: str = "2026-05-16T06:00:00Z") -> Path:
    path = folder / "winds.csv"
    rows = [f"{at},{height},{way},{speed}" for height, way, speed in LEVELS if height <= top_m]
    path.write_text("\n".join(("time,height_m,wind_from_deg,wind_speed_ms", *rows)) + "\n")
    return path
