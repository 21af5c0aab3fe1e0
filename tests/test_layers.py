"""Lower floors know nothing of higher ones, nobody runs in circles, and files stay small."""

import ast
import re
import sys
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "groundstation"
MAP = PACKAGE.parent / "DEVELOPERS.md"
FREE = {"records", "errors", "units"}
"""What every room may import."""

NO_CODE = {"resources"}
PURE = {"physics", "decoders", "flight"}
IMPURE = {"asyncio", "sqlite3", "socket", "logging", "time", "random", "os", "threading"}


def floor(module: str) -> str:
    """The folder, or the module at the top, that ``groundstation.a.b`` belongs to."""
    return module.split(".")[1] if "." in module else "__init__"


def imports(tree: ast.AST) -> Iterator[str]:
    """Modules that are imported when the program runs, inside functions too."""
    for node in ast.iter_child_nodes(tree):
        match node:
            case ast.Import(names=names):
                yield from (one.name for one in names)
            case ast.ImportFrom(module=str(module), names=names):
                yield module
                if module.startswith("groundstation"):
                    yield from (f"{module}.{one.name}" for one in names)
            case ast.If(test=ast.Name(id="TYPE_CHECKING")):
                pass
            case _:
                yield from imports(node)


def own(names: Iterable[str]) -> set[str]:
    """The floors of this package that are among ``names``."""
    return {floor(name) for name in names if name.startswith("groundstation.")}


def map_of(text: str) -> dict[str, set[str]]:
    """What each room may import, by the table of the map, in its order."""
    rows = re.findall(r"^\| `(\w+)(?:/|\.py)` \| .* \| (.+) \|$", text, re.MULTILINE)
    return {room: set(re.findall(r"`(\w+)`", names)) for room, names in rows}


MAY_IMPORT = map_of(MAP.read_text(encoding="utf-8"))


def wrong_imports(module: str, names: Iterable[str]) -> list[str]:
    """What of ``names`` ``module`` may not import but does."""
    here = floor(module)
    names = list(names)
    free = set() if here in FREE else FREE
    above = own(names) - MAY_IMPORT.get(here, set()) - free - {here}
    wrong = [f"{module} imports {name}" for name in sorted(above)]
    if here in PURE:
        outside = {name.split(".")[0] for name in names} & IMPURE
        wrong += [f"{module} imports {name}" for name in sorted(outside)]
    return wrong


def a_circle(graph: Mapping[str, set[str]]) -> list[str]:
    """Modules that import each other in a circle, or nothing."""
    done: set[str] = set()

    def walk(module: str, way: list[str]) -> list[str]:
        if module in way:
            return [*way[way.index(module) :], module]
        if module in done:
            return []
        for following in sorted(graph.get(module, ())):
            if found := walk(following, [*way, module]):
                return found
        done.add(module)
        return []

    for module in sorted(graph):
        if found := walk(module, []):
            return found
    return []


@cache
def sources() -> dict[str, str]:
    found = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        found[name] = path.read_text(encoding="utf-8")
    return found


@cache
def imported() -> dict[str, frozenset[str]]:
    """What each module imports."""
    return {name: frozenset(imports(ast.parse(text))) for name, text in sources().items()}


def test_each_room_imports_only_what_the_map_says() -> None:
    wrong = [
        line
        for name, names in imported().items()
        if name != "groundstation.__main__"
        for line in wrong_imports(name, names)
    ]
    assert wrong == [], "not in the table of DEVELOPERS.md"


def test_every_room_is_on_the_map() -> None:
    rooms = {path.stem for path in PACKAGE.glob("[a-z]*") if path.suffix in ("", ".py")}
    assert rooms - NO_CODE == MAY_IMPORT.keys()


def test_the_map_says_nothing_that_is_not_so() -> None:
    """A room that is no longer imported leaves the row."""
    used: dict[str, set[str]] = {room: set() for room in MAY_IMPORT}
    for name, names in imported().items():
        used.setdefault(floor(name), set()).update(own(names))
    stale = {room: rooms - used[room] for room, rooms in MAY_IMPORT.items()}
    assert {room: rooms for room, rooms in stale.items() if rooms} == {}


def test_every_file_that_the_map_names_is_there() -> None:
    named = re.findall(r"`([a-z_./]+\.(?:py|txt|toml|html|md))`", MAP.read_text())
    assert len(named) > 30
    places = (PACKAGE, PACKAGE.parent)
    missing = {name for name in named if not any((place / name).exists() for place in places)}
    assert missing == {"decoders/yours.py", "tests/decoders/test_yours.py"}


def test_each_room_stands_below_those_it_imports() -> None:
    order = list(MAY_IMPORT)
    for room, rooms in MAY_IMPORT.items():
        assert {name for name in rooms if order.index(name) >= order.index(room)} == set(), room


def test_the_machine_is_asked_for_its_time_only_where_the_map_says() -> None:
    text = MAP.read_text(encoding="utf-8")
    paragraph = text[text.index("**Time.**") :].split("\n\n")[0]
    said = {name.replace("/", ".") for name in re.findall(r"`([\w/]+)\.py`", paragraph)}
    asking = {
        name.removeprefix("groundstation.")
        for name, source in sources().items()
        if re.search(r"^\s*(import|from) time\b|\bdate(time)?\.(now|today)\(", source, re.M)
    }
    assert asking == said


def test_no_import_runs_in_a_circle() -> None:
    graph = {name: set(names & imported().keys()) - {name} for name, names in imported().items()}
    assert a_circle(graph) == []


@pytest.mark.parametrize("folder", ["groundstation", "tests", "benchmarks"])
def test_files_stay_small(folder: str) -> None:
    longest = {
        str(path.relative_to(PACKAGE.parent)): lines
        for path in (PACKAGE.parent / folder).rglob("*.py")
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > 400
    }
    assert longest == {}


def violations(module: str, source: str) -> list[str]:
    return wrong_imports(module, imports(ast.parse(source)))


def test_a_violation_is_found() -> None:
    found = violations(
        "groundstation.flight.made_up",
        "import time\nfrom groundstation import store\n"
        "from groundstation.physics.wind import Wind\n"
        "def late():\n    from groundstation.web.state_api import state_json\n",
    )
    assert found == [
        "groundstation.flight.made_up imports store",
        "groundstation.flight.made_up imports web",
        "groundstation.flight.made_up imports time",
    ]
    assert violations("groundstation.sources.x", "import groundstation.alerts.wording") != []
    assert violations("groundstation.sources.x", "from groundstation import config") != []
    assert violations("groundstation.flight.x", "from groundstation.records import Fix") == []
    assert violations("groundstation.records", "from groundstation import units") != []


def test_the_map_is_read_by_its_rows() -> None:
    text = (
        "| room | what | imports |\n|---|---|---|\n| `a/` | x | nothing |\n| `b.py` | y | `a` |\n"
    )
    assert map_of(text) == {"a": set(), "b": {"a"}}


def test_a_circle_is_found() -> None:
    assert a_circle({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}}) == ["a", "b", "c", "a"]
    assert a_circle({"a": {"b", "c"}, "b": {"c"}, "c": set()}) == []


def test_impure_modules_exist() -> None:
    assert sys.stdlib_module_names >= IMPURE
