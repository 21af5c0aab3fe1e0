"""Texts by gettext's catalogues. The source is English; a language is a file of ``locale/``.

The station speaks one language, which ``speak`` sets once for the whole process, its threads too.
``speaking`` is for what is written in another beside it, such as a label in two languages.
"""

import gettext
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from typing import Final

from groundstation.errors import Words
from groundstation.language.endings import Formatter

SOURCE: Final = "en"
LOCALE: Final = Path(__file__).resolve().parent / "locale"
DOMAIN: Final = "groundstation"

_FORMATTER: Final = Formatter()
_aside: ContextVar[str | None] = ContextVar("language", default=None)
_spoken = SOURCE


def languages() -> tuple[str, ...]:
    """Those that there are, the source first."""
    return (SOURCE, *sorted(path.name for path in LOCALE.iterdir() if path.is_dir()))


def speak(language: str) -> None:
    """From now on the process speaks ``language``."""
    global _spoken  # noqa: PLW0603 - a process speaks to one person
    _catalogue(language)
    _spoken = language


@contextmanager
def speaking(language: str) -> Iterator[None]:
    """Within it, this thread or task speaks ``language``."""
    _catalogue(language)
    token = _aside.set(language)
    try:
        yield
    finally:
        _aside.reset(token)


def spoken() -> str:
    """The language that is spoken here and now."""
    return _aside.get() or _spoken


def _(text: str, **given: object) -> str:
    """``text`` in the language that is spoken, with what is ``given`` put into its braces."""
    translated = _catalogue(spoken()).gettext(text)
    return _FORMATTER.vformat(translated, (), given) if given else translated


def pgettext(context: str, text: str, **given: object) -> str:
    """As ``_``, of a text that means something else elsewhere: ``context`` says what it is here."""
    translated = _catalogue(spoken()).pgettext(context, text)
    return _FORMATTER.vformat(translated, (), given) if given else translated


def said(words: Words) -> str:
    """``words`` in the language that is spoken."""
    given = {
        name: said(value) if isinstance(value, Words) else value
        for name, value in words.given.items()
    }
    return _(words.text, **given) if words.text else ""


def N_(text: str) -> str:  # noqa: N802 - gettext's usual name
    """Marks ``text`` for the catalogues; it is translated by ``_`` where it is said."""
    return text


def ngettext(singular: str, many: str, count: int, **given: object) -> str:
    """``one`` or ``many``, by ``count`` and the rules of the language; {count} is put in too."""
    return _catalogue(spoken()).ngettext(singular, many, count).format(count=count, **given)


FORMS_TO: Final = 200
"""The rules of languages look at a count below 100, else at its last two digits (gettext's manual,
"Additional functions for plural forms")."""


def plural_forms(singular: str, many: str) -> str | tuple[list[str], str]:
    """For a program elsewhere: the forms of a text that is counted, and for each count below
    ``FORMS_TO`` the digit of its form; the text alone where there is one form only."""
    catalogue = _catalogue(spoken())
    forms_by_count = [catalogue.ngettext(singular, many, count) for count in range(FORMS_TO)]
    forms = list(dict.fromkeys(forms_by_count))
    if len(forms) == 1:
        return forms[0]
    return forms, "".join(str(forms.index(text)) for text in forms_by_count)


@cache
def _catalogue(language: str) -> gettext.NullTranslations:
    """Raises ``FileNotFoundError`` for a language that there is not."""
    if language == SOURCE:
        return gettext.NullTranslations()
    return gettext.translation(DOMAIN, LOCALE, [language])
