"""Lower floors know nothing of higher ones, nobody runs in circles, and files stay small."""

import ast
import sys
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "groundstation"
SHARED_BY_ALL = {
    "records",
    "alert_records",
    "units",
    "errors",
    "clock",
    "settings",
    "httpd",
    "templates",
}

MAY_IMPORT: Mapping[str, set[str]] = {
    "physics": set(),
    "decoders": set(),
    "flight": {"physics"},
    "geo": {"physics"},
    "search": {"physics"},
    "planning": {"physics", "flight", "search"},
    "store": {"flight", "jsonout", "search"},
    "recordings": {"decoders", "store"},
    "sources": {"decoders", "recordings"},
    "weather": {"jsonout", "physics"},
    "publish": {"flight", "jsonout", "schema", "store"},
    "alerts": {"flight", "physics", "store"},
    "web": {"flight", "geo", "physics", "jsonout", "schema", "search"},
    "payload_log": {"decoders", "physics"},
    "debrief": {
        "flight",
        "jsonout",
        "payload_log",
        "physics",
        "planning",
        "schema",
        "search",
        "store",
    },
    "simulation": {"physics", "decoders"},
    "jsonout": {"flight", "physics"},
    "schema": {"jsonout"},
    **{name: set() for name in SHARED_BY_ALL},
}
"""What each floor may import beside what all share. Those not named stand above all others."""

TOP = {"cli", "commands", "jobs", "config", "station", "__main__"}
IMPORT_CONFIG = {"cli", "commands", "jobs", "station"}
PURE = {"physics", "decoders", "flight"}
IMPURE = {"asyncio", "sqlite3", "socket", "logging", "time", "random", "os", "threading"}


def floor(module: str) -> str:
    """The folder, or the module at the top, that ``groundstation.a.b`` belongs to."""
    return module.split(".")[1] if "." in module else "__init__"


def imports(tree: ast.AST, *, inside_functions: bool = True) -> Iterator[str]:
    """Modules that are imported when the program runs."""
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
            case ast.FunctionDef() | ast.AsyncFunctionDef() if not inside_functions:
                pass
            case _:
                yield from imports(node, inside_functions=inside_functions)


def own(names: Iterable[str]) -> set[str]:
    """The floors of this package that are among ``names``."""
    return {floor(name) for name in names if name.startswith("groundstation.")}


def wrong_imports(module: str, source: str) -> list[str]:
    """What ``module`` may not import but does."""
    here = floor(module)
    names = list(imports(ast.parse(source)))
    wrong = []
    if here in MAY_IMPORT:
        above = own(names) - MAY_IMPORT[here] - SHARED_BY_ALL - {here}
        wrong += [f"{module} imports {name}" for name in sorted(above)]
    elif "config" in own(names) and here not in IMPORT_CONFIG | {"config"}:
        wrong.append(f"{module} imports config")
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


def sources() -> dict[str, str]:
    found = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        found[name] = path.read_text(encoding="utf-8")
    return found


def test_each_floor_imports_only_lower_ones() -> None:
    assert [line for name, text in sources().items() for line in wrong_imports(name, text)] == []


def test_every_floor_is_known() -> None:
    floors = {floor(name) for name in sources()} - {"__init__"}
    assert floors <= MAY_IMPORT.keys() | TOP


def test_no_import_runs_in_a_circle() -> None:
    texts = sources()
    graph = {
        name: set(imports(ast.parse(text), inside_functions=False)) & texts.keys() - {name}
        for name, text in texts.items()
    }
    assert a_circle(graph) == []


@pytest.mark.parametrize("folder", ["groundstation", "tests", "benchmarks"])
def test_files_stay_small(folder: str) -> None:
    longest = {
        str(path.relative_to(PACKAGE.parent)): lines
        for path in (PACKAGE.parent / folder).rglob("*.py")
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > 400
    }
    assert longest == {}


def test_a_violation_is_found() -> None:
    found = wrong_imports(
        "groundstation.flight.made_up",
        "import time\nfrom groundstation import store\n"
        "from groundstation.physics.wind import Wind\n"
        "def late():\n    from groundstation.web.api import state_json\n",
    )
    assert found == [
        "groundstation.flight.made_up imports store",
        "groundstation.flight.made_up imports web",
        "groundstation.flight.made_up imports time",
    ]
    assert wrong_imports("groundstation.sources.x", "import groundstation.alerts.wording") != []
    assert wrong_imports("groundstation.sources.x", "from groundstation import config") != []


def test_a_circle_is_found() -> None:
    assert a_circle({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}}) == ["a", "b", "c", "a"]
    assert a_circle({"a": {"b", "c"}, "b": {"c"}, "c": set()}) == []


def test_impure_modules_exist() -> None:
    assert sys.stdlib_module_names >= IMPURE
