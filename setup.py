"""What the build adds: the commit it was made from, for ``groundstation --version``."""

import subprocess
from pathlib import Path

from setuptools import setup
from setuptools.command.build_py import build_py
from setuptools.command.sdist import sdist

COMMIT = Path("groundstation", "resources", "commit.txt")


def commit() -> str:
    """As a source distribution holds it, else as git tells it, else nothing."""
    if COMMIT.is_file():
        return COMMIT.read_text(encoding="utf-8").strip()
    try:
        done = subprocess.run(
            ["git", "rev-parse", "--short=12", "HEAD"],
            capture_output=True, text=True, check=True, cwd=Path(__file__).parent,
        )  # fmt: skip
    except (OSError, subprocess.CalledProcessError):
        return ""
    return done.stdout.strip()


def write(tree: Path) -> None:
    """Keep the commit in ``tree``, where it is known."""
    if known := commit():
        (tree / COMMIT).parent.mkdir(parents=True, exist_ok=True)
        (tree / COMMIT).write_text(f"{known}\n", encoding="utf-8")


class BuildPy(build_py):
    def run(self) -> None:
        super().run()
        if not self.editable_mode:
            write(Path(self.build_lib))


class Sdist(sdist):
    def make_release_tree(self, base_dir: str, files: list[str]) -> None:
        super().make_release_tree(base_dir, files)
        write(Path(base_dir))


setup(cmdclass={"build_py": BuildPy, "sdist": Sdist})
