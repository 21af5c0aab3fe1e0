"""What is installed is what is pinned, by hash and without an address."""

import re
from importlib.metadata import distribution
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

CI = Path(__file__).resolve().parents[1] / ".ci"
FILES = ("locked.txt", "locked-test.txt")


def entries(name: str) -> list[tuple[Requirement, int]]:
    """Each package of the file with the number of its hashes."""
    text = (CI / name).read_text().replace("\\\n", " ")
    found = []
    for line in text.splitlines():
        if line and not line.startswith("#"):
            words, *hashes = line.split(" --hash=")
            assert all(re.fullmatch(r"sha256:[0-9a-f]{64} *", one) for one in hashes)
            found.append((Requirement(re.sub(r" +", " ", words).strip()), len(hashes)))
    return found


@pytest.mark.parametrize("name", FILES)
def test_every_entry_has_a_hash_and_no_address(name: str) -> None:
    assert "://" not in (CI / name).read_text()
    found = entries(name)
    assert len(found) > 20
    for requirement, hashes in found:
        assert hashes >= 1, requirement
        [one] = requirement.specifier
        assert one.operator == "=="


@pytest.mark.parametrize(("name", "extra"), [("locked.txt", ""), ("locked-test.txt", "test")])
def test_everything_that_is_asked_for_is_pinned_and_is_here(name: str, extra: str) -> None:
    pinned = {
        canonicalize_name(requirement.name): requirement
        for requirement, _ in entries(name)
        if requirement.marker is None or requirement.marker.evaluate()
    }
    for text in distribution("groundstation").requires or ():
        need = Requirement(text)
        if need.marker and not need.marker.evaluate({"extra": extra}):
            continue
        locked = pinned[canonicalize_name(need.name)]
        assert locked.specifier.contains(distribution(need.name).version), need
