"""No text for a person stands outside the catalogues, in the files that are translated.

The rule: what a person reads has two words, or begins with a capital letter; between what is
filled in, a word of four letters is enough. Names of settings, units and keys are none of that.
Docstrings, errors that are raised, lines of the log and patterns are left out: what ends a command
and the log are in English everywhere, since people look for their words. Why a source or a service
failed is said on the page, too, and so is in the catalogues.
"""

import ast
import re
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest

from groundstation.alerts.wording import render
from groundstation.language.catalogue import speaking
from groundstation.records import AlertKind
from tests.alerts.test_wording import FACTS, HOME, alert
from tests.language.test_catalogue import ids_of
from tests.support.catalogues import SAID_LATER, to_translate
from tests.support.outside import script_texts, template_texts

PACKAGE = Path(__file__).resolve().parents[2] / "groundstation"
TRANSLATED = (
    "alerts/orders.py",
    "alerts/phone_target.py",
    "alerts/phrase_parts.py",
    "alerts/phrases.py",
    "alerts/quantities.py",
    "alerts/where.py",
    "alerts/wording.py",
    "debrief/derive_lessons.py",
    "debrief/drawing.py",
    "debrief/heard_section.py",
    "debrief/log_section.py",
    "debrief/report.py",
    "debrief/silences.py",
    "debrief/touchdown.py",
    "debrief/track_drawings.py",
    "debrief/words.py",
    "payload_log/reading.py",
    "payload_log/sanity.py",
    "planning/brief.py",
    "planning/brief_pictures.py",
    "planning/checklist.py",
    "planning/decision.py",
    "planning/label.py",
    "planning/notice.py",
    "planning/past_flights.py",
    "planning/rules.py",
    "planning/spread.py",
    "planning/sun.py",
    "planning/warnings.py",
    "geo/keep_outs.py",
    "jobs/plan.py",
    "jobs/plan_notes.py",
    "jobs/plan_text.py",
    "planning/forecast.py",
    "publish/friends.py",
    "station/notices.py",
    "station/off_clocks.py",
    "station/problems.py",
    "station/strangers.py",
    "flight/sighting_kinds.py",
    "station/forecast_keeper.py",
    "station/guidance.py",
    "station/overview.py",
    "station/report_desk.py",
    "web/basis_words.py",
    "web/installable.py",
    "web/local_notice.py",
    "web/login.py",
    "web/page_files.py",
    "web/phone_api.py",
    "web/positions.py",
    "web/shares.py",
)
"""Of each of them all that a person reads is in the catalogues."""
TEMPLATES = (
    "debrief/templates/*.html",
    "planning/templates/*.html",
    "planning/templates/label.svg",
    "publish/templates/*.html",
    "web/page/*.html",
)
SCRIPTS = ("publish/templates/*.js", "web/page/*.js")


def of(patterns: Iterable[str]) -> list[Path]:
    """The files; there must be some for each pattern."""
    found = [sorted(PACKAGE.glob(one)) for one in patterns]
    assert all(found)
    return [path for paths in found for path in paths]


MARKS = {"_", "N_", "ngettext", "pgettext"}
NOT_FOR_PEOPLE = {
    "ConfigurationError", "DeliveryError", "UncertainDeliveryError", "ValueError", "compile",
    "create_task", "exception", "log", "warning", "error", "info", "debug", "getLogger", "strftime",
    "get_template", "files", "templates", "read_settings",
}  # fmt: skip
FOR_FILES = {"_lesson"}
"""Functions that fill a file of settings, whose words are in English everywhere."""
WORDS = re.compile(r"[A-Za-z]{2,},? [a-z]{2,}|^[A-Z][a-z]+")
WORD = re.compile(r"[A-Za-z]{4,}")
TECHNICAL = re.compile(
    r"https?://|^[A-Z][A-Za-z]+-[A-Z]|[{<=]|/|-src |^mailto:$|^TTL$"
    r"|^(Authorization|Strict|Topic|Urgency)$"
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
        for one in body or () if getattr(node, "name", "") not in FOR_FILES else ():
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


def marked(tree: ast.AST) -> Iterator[str]:
    """The texts that are given to the marks and kept to be said later, wherever they stand."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and called(node) in MARKS.union(SAID_LATER):
            first = node.args[called(node) == "pgettext"] if node.args else None
            if isinstance(first, ast.Constant) and isinstance(first.value, str):
                yield first.value
            elif isinstance(first, ast.JoinedStr):
                yield ast.unparse(first)


def test_what_is_marked_is_found_for_the_catalogues() -> None:
    """The extractor does not look into f-strings."""
    known = {ids_of(text)[0] for text in to_translate() if text.id}
    paths = sorted(PACKAGE.rglob("*.py"))
    texts_of = {path: set(marked(ast.parse(path.read_text(encoding="utf-8")))) for path in paths}
    assert sum(map(len, texts_of.values())) > 500
    assert {
        path.name: missing for path, all_ in texts_of.items() if (missing := all_ - known)
    } == {}


@pytest.mark.parametrize("path", of(TEMPLATES), ids=lambda path: path.name)
def test_no_text_of_a_template_is_outside_the_catalogues(path: Path) -> None:
    assert template_texts(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", of(SCRIPTS), ids=lambda path: path.name)
def test_no_text_of_a_script_is_outside_the_catalogues(path: Path) -> None:
    assert script_texts(path.read_text(encoding="utf-8")) == []


def test_a_text_outside_is_found_in_a_template() -> None:
    source = """<title>{{ station }}</title><meta name="viewport" content="width=device-width">
<p title="{{ _('said') }}">{{ _("said") }} 12 km</p>
{% if bad %}<p class="is bad">not said</p>{% endif %}
<input placeholder="neither"><script>const it = "code";</script>"""
    assert [text for _, text in template_texts(source)] == ["not said", "neither"]


@pytest.mark.parametrize(
    ("source", "outside"),
    [
        ('say(node, "later");', ["later"]),
        ('it.textContent = "later";', ["later"]),
        ('const SAID = { silent: "heard nothing", heard: _("heard it") };', ["heard nothing"]),
        ('say(node, `seen ${far ? "from afar" : _("here")} and noted`);',
         ["from afar", "seen ", " and noted"]),
        ('_("{name} is here", { name: "Nobody" });', ["Nobody"]),
        ('ngettext("{count} frame", "{count} frames", n);', []),
        ('byId(`sighting-${name}`).className = "small wide"; // What is it?', []),
        ('if (kind === "Polygon") query(`[data-f="${name}"]`, `/api/road?lat=${lat}`);', []),
    ],
)  # fmt: skip
def test_a_text_outside_is_found_in_a_script(source: str, outside: list[str]) -> None:
    assert [text for _, text in script_texts(source)] == outside


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
