"""What the page's worker keeps for when there is no network: all that the page is made of."""

import re
from pathlib import Path

PAGE = Path(__file__).resolve().parents[2] / "groundstation" / "web" / "page"


def imported(name: str) -> set[str]:
    """The module and all that it imports, and what those do."""
    found, waiting = set(), [name]
    while waiting:
        one = waiting.pop()
        if one not in found:
            found.add(one)
            waiting += re.findall(r'from "\./([a-z_]+\.js)"', (PAGE / one).read_text("utf-8"))
    return found


def test_without_a_network_the_page_has_every_script_it_needs() -> None:
    """One that is missing stops all of them."""
    kept = set(re.findall(r'"/static/([a-z_.]+)"', (PAGE / "worker.js").read_text("utf-8")))
    shell = (PAGE / "shell.html").read_text("utf-8")
    wanted = imported("page.js") | set(re.findall(r'"/static/([a-z_.]+)"', shell))
    assert len(wanted) > 15
    assert wanted - kept == set()


def test_nothing_is_named_twice() -> None:
    """A cache takes none of a list that names one twice (Service Workers, addAll)."""
    files = (PAGE / "worker.js").read_text("utf-8").partition("FILES = [")[2].partition("]")[0]
    named = re.findall(r'"(/static/[a-z_.]+)"', files)
    assert len(named) > 15
    assert sorted(named) == sorted(set(named))
