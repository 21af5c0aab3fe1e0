"""Which groundstation this is: its version, and the commit it was made from."""

import subprocess
from importlib import metadata, resources
from pathlib import Path

import groundstation

CHANGED = ", changed since"


def version_text() -> str:
    """As ``0.1.0 (commit 1a2b3c4d5e6f)``; without the commit where nothing tells it."""
    version = metadata.version("groundstation")
    commit = _of_build() or _of_checkout(Path(groundstation.__file__).parents[1])
    return f"{version} (commit {commit})" if commit else version


def _of_build() -> str:
    """What the build kept (``setup.py``)."""
    kept = resources.files(groundstation) / "resources" / "commit.txt"
    return kept.read_text(encoding="utf-8").strip() if kept.is_file() else ""


def _of_checkout(folder: Path) -> str:
    """What git tells of the folder that this runs from, and whether it was changed since."""
    if not (folder / ".git").exists():
        return ""
    try:
        done = subprocess.run(
            ["git", "describe", "--always", "--abbrev=12", "--exclude=*", f"--dirty={CHANGED}"],
            capture_output=True, text=True, check=True, timeout=10.0, cwd=folder,
        )  # fmt: skip
    except (OSError, subprocess.SubprocessError):
        return ""
    return done.stdout.strip()
