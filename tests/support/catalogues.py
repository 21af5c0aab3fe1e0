"""The catalogues of texts: what there is to translate, and what is translated.

    python -m tests.support.catalogues

puts new texts into each catalogue of ``groundstation/language/locale``, takes out those that are
gone, and compiles them.
"""

import io
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from groundstation.language.catalogue import DOMAIN, LOCALE, languages

PACKAGE = Path(__file__).resolve().parents[2] / "groundstation"
METHODS = [
    ("**.py", "python"),
    ("**.js", "javascript"),
    ("**.html", "jinja2"),
    ("**.svg", "jinja2"),
]
# Texts inside of `${}` are found too.
OPTIONS = {"**.js": {"parse_template_string": "true"}}
# What dates say is in the history of the file.
UNCHANGING = datetime(2026, 1, 1, tzinfo=UTC)
SAID_LATER = (
    "Words", "SourceError", "DeliveryError", "UncertainDeliveryError", "FetchError", "MissingError",
)  # fmt: skip
"""What keeps a text and what is put into it, for whoever says it."""

KEYWORDS = {
    "_": None, "N_": None, "ngettext": (1, 2), "pgettext": ((1, "c"), 2),
    **dict.fromkeys(SAID_LATER),
}  # fmt: skip


@cache
def to_translate() -> Catalog:
    """Every text of the program that is for a person; not to be changed."""
    found = Catalog()
    for name, _line, text, comments, context in extract_from_dir(
        PACKAGE, METHODS, OPTIONS, keywords=KEYWORDS, comment_tags=("For translators:",)
    ):
        # No line numbers: they would change with every edit.
        found.add(
            text, locations=[(name, 0)], auto_comments=comments, context=context
        )  # fmt: skip
    return found


def po_of(language: str) -> Path:
    return LOCALE / language / "LC_MESSAGES" / f"{DOMAIN}.po"


def catalogue_of(language: str) -> Catalog:
    """As it is translated."""
    with po_of(language).open("rb") as file:
        return read_po(file, locale=language, domain=DOMAIN)


def compiled(catalogue: Catalog) -> bytes:
    written = io.BytesIO()
    write_mo(written, catalogue)
    return written.getvalue()


def update(language: str) -> None:
    path = po_of(language)
    path.parent.mkdir(parents=True, exist_ok=True)
    catalogue = Catalog(
        locale=language, domain=DOMAIN, project="groundstation", version="1", fuzzy=False,
        header_comment=f"# The texts of groundstation in the language {language!r}.",
        creation_date=UNCHANGING, revision_date=UNCHANGING, last_translator="", language_team="",
    )  # fmt: skip
    for known in catalogue_of(language) if path.exists() else ():
        if known.id:
            catalogue[known.id] = known
    catalogue.update(to_translate(), no_fuzzy_matching=True)
    catalogue.obsolete.clear()
    with path.open("wb") as file:
        write_po(
            file, catalogue, omit_header=False, no_location=False, include_lineno=False,
            sort_by_file=True, width=100,
        )  # fmt: skip
    path.with_suffix(".mo").write_bytes(compiled(catalogue_of(language)))


if __name__ == "__main__":
    for each in languages()[1:]:
        update(each)
