"""Write .ci/locked.txt and .ci/locked-test.txt: what is installed, with the hash of every wheel.

    python .ci/lock.py WHEELS

WHEELS holds the wheels of .ci/constraints.txt for every platform and Python that is supported, got
with "pip download --only-binary=:all: --platform … --python-version …". A package without a wheel
for one of them would need a compiler there, and is an error. Run it in an environment that has the
project installed with its test extra.
"""

import hashlib
import re
import sys
from collections import defaultdict
from collections.abc import Iterator
from importlib.metadata import distribution
from pathlib import Path

from packaging.requirements import Requirement
from packaging.tags import Tag
from packaging.utils import canonicalize_name, parse_wheel_filename

HERE = Path(__file__).resolve().parent
PLATFORMS = ("x86_64", "aarch64")
PYTHONS = ("3.11", "3.13")
BUILD = ("setuptools",)


def closure(extra: str) -> set[str]:
    """The names of everything that the project needs, with what that needs."""
    found: set[str] = set()
    waiting: list[tuple[str, str]] = [("groundstation", extra)]
    while waiting:
        name, extras = waiting.pop()
        for text in distribution(name).requires or ():
            need = Requirement(text)
            if need.marker and not need.marker.evaluate({"extra": extras}):
                continue
            plain = canonicalize_name(need.name)
            if plain not in found:
                found.add(plain)
                waiting.append((plain, ""))
    return (found | set(BUILD)) - {"pip"}


def covered(tags: frozenset[Tag], python: str, platform: str) -> bool:
    """Whether a wheel with these tags installs there."""
    wanted = f"cp{python.replace('.', '')}"
    return any(
        (tag.platform == "any" or tag.platform.endswith(platform))
        and (tag.interpreter == wanted or tag.abi == "abi3" or tag.interpreter.startswith("py"))
        for tag in tags
    )


def main() -> None:
    wheels: dict[tuple[str, str], dict[str, frozenset[Tag]]] = defaultdict(dict)
    for path in sorted(Path(sys.argv[1]).rglob("*.whl")):
        name, version, _, tags = parse_wheel_filename(path.name)
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        wheels[name, str(version)][digest] = tags
    pins = [
        Requirement(line)
        for line in (HERE / "constraints.txt").read_text().splitlines()
        if line and not line.startswith("#")
    ]
    for file, extra in (("locked.txt", ""), ("locked-test.txt", "test")):
        wanted = closure(extra)
        mine = [pin for pin in pins if canonicalize_name(pin.name) in wanted]
        missing = wanted - {canonicalize_name(pin.name) for pin in mine}
        if missing:
            sys.exit(f"not pinned in constraints.txt: {', '.join(sorted(missing))}")
        (HERE / file).write_text(
            "# Made by .ci/lock.py; wheels for x86_64 and aarch64, Python 3.11 and 3.13.\n"
            + "".join(f"{entry}\n" for pin in mine for entry in entries(pin, wheels))
        )


def entries(
    pin: Requirement, wheels: dict[tuple[str, str], dict[str, frozenset[Tag]]]
) -> Iterator[str]:
    version = re.sub("^==", "", str(pin.specifier))
    found = wheels[canonicalize_name(pin.name), version]
    for python in PYTHONS:
        if pin.marker and not pin.marker.evaluate({"python_version": python}):
            continue
        for platform in PLATFORMS:
            if not any(covered(tags, python, platform) for tags in found.values()):
                sys.exit(f"no wheel of {pin.name} {version} for Python {python} on {platform}")
    marker = f" ; {pin.marker}" if pin.marker else ""
    yield " \\\n    ".join(
        [f"{pin.name}=={version}{marker}", *(f"--hash=sha256:{d}" for d in found)]
    )


if __name__ == "__main__":
    main()
