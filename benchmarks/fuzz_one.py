"""One target under atheris, in a process of its own: ``python -m benchmarks.fuzz_one NAME …``."""

import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["groundstation"]):
    from benchmarks.fuzz_targets import targets


def main() -> None:
    name = sys.argv.pop(1)
    with tempfile.TemporaryDirectory() as folder:
        one = targets(Path(folder))[name].one
        atheris.Setup(sys.argv, one)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
