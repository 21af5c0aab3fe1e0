"""Fixtures for all tests."""

import os
import sqlite3  # noqa: F401  (before ecCodes, which may bring an old one along)
from pathlib import Path

import pytest

# As the command line does, and before numpy is imported: threads only get in each other's way.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def shared_folder() -> Path | None:
    """The folder of real flights and soundings, or None where the machine has none."""
    named = os.environ.get("GROUNDSTATION_SHARED")
    if named:
        return Path(named)
    beside = Path(__file__).resolve().parents[2] / "shared"
    return beside if beside.is_dir() else None


@pytest.fixture(scope="session")
def shared() -> Path:
    """Real flights and soundings; skips where there are none, fails where they are promised."""
    folder = shared_folder()
    if folder is None:
        pytest.skip("no folder of real flights; set GROUNDSTATION_SHARED to it")
    if not (folder / "flights" / "index.csv").is_file():
        pytest.fail(f"GROUNDSTATION_SHARED names {folder}, which holds no flights/index.csv")
    return folder
