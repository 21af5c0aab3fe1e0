"""No text for a person stands outside the catalogues, in the files that are translated.

The rule: what a person reads has two words, or begins with a capital letter; between what is
filled in, a word of four letters is enough. Names of settings, units and keys are none of that.
Docstrings, errors that are raised, lines of the log and patterns are left out: errors and the log
are in English everywhere, since people look for their words.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from groundstation.alerts.wording import render
from groundstation.language.catalogue import speaking
from groundstation.records import AlertKind
from tests.alerts.test_wording import FACTS, HOME, alert

PACKAGE = Path(__file__).resolve().parents[2] / "groundstation"
TRANSLATED = (
    "alerts/orders.py",
    "alerts/phone_target.py",
    "alerts/phrase_parts.py",
    "alerts/phrases.py",
    "alerts/quantities.py",
    "alerts/where.py",
    "alerts/wording.py",
    "planning/label.py",
    "publish/friends.py",
    "station/notices.py",
    "station/off_clocks.py",
    "station/problems.py",
    "station/strangers.py",
    "web/local_notice.py",
)
"""Of each of them all that a person reads is in the catalogues."""

MARKS = {"_", "N_", "ngettext"}
NOT_FOR_PEOPLE = {
    "ConfigurationError", "DeliveryError", "UncertainDeliveryError", "ValueError", "compile", "log",
    "warning", "error", "info", "debug", "getLogger", "strftime", "get_template", "files",
    "templates",
}  # fmt: skip
WORDS = re.compile(r"[A-Za-z]{2,},? [a-z]{2,}|^[A-Z][a-z]+")
WORD = re.compile(r"[A-Za-z]{4,}")
TECHNICAL = re.compile(
    r"https?://|^[A-Z][A-Za-z]+-[A-Z]|[{<=]|/|-src |^mailto:$|^TTL$|^(Topic|Urgency|Authorization)$"
)
"""Addresses, lines of a configuration, names of HTTP's headers, policies."""


def called(node: ast.Call) -> str:
    match node.func:
        case ast.Name(id=name) | ast.Attribute(attr=name):
            return name
    return ""


def texts(node: ast.AST, inside: bool = False) -> Iterator[tuple[int, str]]:
    """Texts that a person would read and that no catalogue holds, with their lines."""
    body = getattr(node, "body", None)
    if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
        for one in body or ():
            # A text that stands by itself is a docstring.
            if not (isinstance(one, ast.Expr) and isinstance(one.value, ast.Constant)):
                yield from texts(one)
        return
    match node:
        case ast.Raise():
            return
        case ast.Call() if called(node) in MARKS | NOT_FOR_PEOPLE:
            for one in node.keywords:
                if called(node) in MARKS:
                    yield from texts(one.value)
            return
        case ast.Constant(value=str(text)):
            if (WORD if inside else WORDS).search(text) and not TECHNICAL.search(text):
                yield node.lineno, text
            return
    for one in ast.iter_child_nodes(node):
        yield from texts(one, isinstance(node, ast.JoinedStr))


@pytest.mark.parametrize("name", TRANSLATED)
def test_no_text_is_outside_the_catalogues(name: str) -> None:
    tree = ast.parse((PACKAGE / name).read_text(encoding="utf-8"))
    assert list(texts(tree)) == []


def test_a_text_outside_is_found() -> None:
    source = '''
"""A module that says something."""
SAID = "Keep away"
def told(name):
    """What it says."""
    log.warning("this is for the log")
    kept = {"latitude_deg": "km"}
    _("This is marked", who="not this one")
    if name:
        raise ConfigurationError("this is wrong")
    return f"landed near {name}", f"{name} km"
'''
    assert [text for _, text in texts(ast.parse(source))] == [
        "Keep away",
        "not this one",
        "landed near ",
    ]


@pytest.mark.parametrize("kind", [one for one in FACTS if one is not AlertKind.STATION])
def test_an_alert_in_hungarian_has_nothing_of_english(kind: AlertKind) -> None:
    with speaking("hu"):
        message = render(alert(FACTS[kind]), HOME)
    told = f"{message.title}\n{message.body}"
    words = set(re.findall(r"[a-z]+", re.sub(r"https?://\S+|town east|mast", "", told.lower())))
    english = {"the", "of", "and", "it", "to", "landing", "last", "within", "for"}
    assert words & english == set()
    # Decimals by the language: 23,7 km and not 23.7 km; degrees of a place are for machines too.
    assert re.findall(r"\d\.\d+ (?:km|m)", told) == []
