"""Numbers that decide something say why: a reason or a source stands beside them. Names of values
say what they are."""

import ast
import itertools
from collections.abc import Iterator
from pathlib import Path

PACKAGE = Path(__file__).resolve().parents[1] / "groundstation"
SAY_NOTHING = frozenset({"one", "told"})


def is_number(node: ast.expr | None) -> bool:
    """Whether it is made of numbers alone: 3, -2.5, 48 * 3_600.0, (1.0, 2.0)."""
    match node:
        case ast.Constant(value=value):
            return isinstance(value, int | float) and not isinstance(value, bool)
        case ast.UnaryOp(operand=inside):
            return is_number(inside)
        case ast.BinOp(left=left, right=right):
            return is_number(left) and is_number(right)
        case ast.Tuple(elts=items):
            return bool(items) and all(is_number(item) for item in items)
        case _:
            return False


def is_constant(node: ast.stmt) -> bool:
    return isinstance(node, ast.Assign | ast.AnnAssign) and is_number(node.value)


def without_a_reason(source: str) -> Iterator[str]:
    """The numbers at the top of a module that have neither a comment on their line or right above
    it, nor a docstring right below."""
    lines = source.splitlines()
    body = ast.parse(source).body
    for node, after in itertools.zip_longest(body, body[1:]):
        line = lines[node.lineno - 1]
        told = isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant)
        above = lines[node.lineno - 2].startswith("#")
        if is_constant(node) and not (told or above or "#" in line):
            yield line


def test_every_number_has_its_reason_beside_it() -> None:
    bare = [
        f"{path.relative_to(PACKAGE)}: {line}"
        for path in sorted(PACKAGE.rglob("*.py"))
        for line in without_a_reason(path.read_text(encoding="utf-8"))
    ]
    assert bare == [], "say beside each why it is so"


def test_a_number_without_a_reason_is_found() -> None:
    source = '''"""A module."""

# Own choice: as long as one waits.
PATIENCE_S = 3.0
SPEED_MS = 2.0  # a walk

BARE_M: Final = 2 * 3_600.0
PAIR = (1.0, -2.0)

TOLD_S = 5.0
"""Own choice."""

NAME = "x"
'''
    assert list(without_a_reason(source)) == ["BARE_M: Final = 2 * 3_600.0", "PAIR = (1.0, -2.0)"]


def names_that_say_nothing(source: str) -> Iterator[str]:
    """Values, fields and parameters called by a word that any value could be called by."""
    for node in ast.walk(ast.parse(source)):
        match node:
            case ast.Name(id=name, ctx=ast.Store()) | ast.arg(arg=name):
                pass
            case ast.MatchAs(name=name) | ast.MatchStar(name=name) | ast.MatchMapping(rest=name):
                pass
            case _:
                continue
        if name in SAY_NOTHING:
            yield f"{name} in line {getattr(node, 'lineno', 0)}"


def test_every_name_of_a_value_says_what_it_is() -> None:
    empty = [
        f"{path.relative_to(PACKAGE)}: {name}"
        for path in sorted(PACKAGE.rglob("*.py"))
        for name in names_that_say_nothing(path.read_text(encoding="utf-8"))
    ]
    assert empty == [], "name it for what it is: a tracker, a flight, a packet"


def test_a_name_that_says_nothing_is_found_wherever_it_is_bound() -> None:
    source = """def f(one, *, last_told):
    told = [one for one in ()]
    for n, told in (): lambda one: one
    with open("x") as told: pass
    match n:
        case [one, *told]: pass
    return (told := "one")

class Fix:
    told: bool
"""
    found = [name.rpartition(" ")[2] for name in names_that_say_nothing(source)]
    assert sorted(map(int, found)) == [1, 2, 2, 3, 3, 4, 6, 6, 7, 10]
