"""The inner loop stays quick: what starts something beside the test says so."""

import ast
import re
from collections import Counter
from pathlib import Path

from tests.conftest import LONGEST

HERE = Path(__file__).parent
STARTS = re.compile(
    r"^from tests\.support\.\w+ import .*\b(LiveStation|Mosquitto|Dovecot|SmallDisk|Namespaces)\b"
    r"|^from playwright\b",
    re.MULTILINE,
)


def test_what_starts_something_is_marked_as_live() -> None:
    files = [path for path in HERE.rglob("test_*.py") if STARTS.search(path.read_text("utf-8"))]
    assert len(files) > 15
    assert [path.name for path in files if "pytest.mark.live" not in path.read_text("utf-8")] == []


def test_the_longest_files_are_there() -> None:
    assert [name for name in LONGEST if not (HERE / name).is_file()] == []


def test_no_two_files_of_tests_have_the_same_name() -> None:
    """pytest takes them for one module, and then nothing runs."""
    times = Counter(path.name for path in HERE.glob("*/**/test_*.py"))
    assert [name for name, count in times.items() if count > 1] == []


def test_each_test_that_starts_something_itself_is_marked() -> None:
    """A mark on the test beside it does not count."""
    unmarked = []
    for path in HERE.rglob("test_*.py"):
        text = path.read_text("utf-8")
        tree = ast.parse(text)
        whole = any(
            isinstance(node, ast.Assign) and "pytest.mark.live" in ast.unparse(node)
            for node in tree.body
        )
        for node in () if whole else tree.body:
            if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                continue
            marks = " ".join(ast.unparse(one) for one in node.decorator_list)
            starts = re.search(
                r"\b(LiveStation|Mosquitto|Dovecot|SmallDisk|Namespaces)\(", ast.unparse(node)
            )
            if node.name.startswith("test_") and starts and "pytest.mark.live" not in marks:
                unmarked.append(f"{path.name}: {node.name}")
    assert unmarked == []
