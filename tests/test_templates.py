"""Templates escape whatever is filled in, quote every attribute, and refuse what is not given."""

import re
from pathlib import Path

import pytest
from jinja2 import UndefinedError

from groundstation.html.templates import templates

PACKAGE = Path(__file__).resolve().parents[1] / "groundstation"
PAGES = sorted(
    path for path in PACKAGE.rglob("*.html") if "{{" in path.read_text() or "{%" in path.read_text()
)


def test_a_value_is_never_markup() -> None:
    page = templates("groundstation.web", "page").get_template("welcome.html")
    assert "&lt;b&gt;&#34;&#39;&amp;" in page.render(name="<b>\"'&")


def test_what_is_not_given_is_an_error() -> None:
    page = templates("groundstation.web", "page").get_template("welcome.html")
    with pytest.raises(UndefinedError, match="name"):
        page.render()


OURS = {"friends.html": "{{ script }}", "shell.html": "{{ module }}"}
"""What is filled in where nothing of others may be: text of the package's own files, and their
names."""


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.name)
def test_every_attribute_is_quoted_and_nothing_is_let_through(path: Path) -> None:
    text = path.read_text().replace(OURS.get(path.name, "{{}}"), "")
    assert not re.search(r"=\s*\{\{", text)
    assert not re.search(r"\|\s*safe\b|autoescape", text)
    # Nothing of others in a script, in an address or in what happens at a touch: escaping is no
    # help there.
    assert not re.search(r"<script[^>]*>[^<]*\{\{", text)
    assert not re.search(r"\b(href|src|on\w+)=\"[^\"]*\{\{", text)


def test_no_program_text_writes_markup() -> None:
    """Tags are written in templates only; SVG of a constant icon is the exception."""
    tag = re.compile(r"[\"'f]<(?:p|td|tr|li|ul|div|h[1-6]|table|svg|text|polygon|!doctype)\b")
    wrong = [
        str(path.relative_to(PACKAGE))
        for path in PACKAGE.rglob("*.py")
        if tag.search(path.read_text()) and path.name != "page_files.py"
    ]
    assert wrong == []
