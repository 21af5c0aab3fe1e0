"""HTML by templates (Jinja2): whatever is filled in is escaped, and a name that is not given is an
error. A template quotes every attribute and puts nothing of others into scripts or addresses. Its
texts are in the catalogues, by ``_``, ``pgettext`` and ``ngettext``; ``language`` is the one that
is spoken."""

import re

from jinja2 import Environment, PackageLoader, StrictUndefined
from jinja2.ext import Extension

from groundstation.language.catalogue import _, ngettext, pgettext, spoken


class _Joined(Extension):
    """A line's end in a template, with the indentation after it, is nothing on the page: it
    becomes a comment, so that errors still name the right line. Tags must not be broken."""

    def preprocess(self, source: str, name: str | None, filename: str | None = None) -> str:
        del name, filename
        return re.sub(r"\n[ \t]*", "{#\n#}", source)


def templates(package: str, folder: str = "templates") -> Environment:
    """The templates of ``package``, as ``groundstation.debrief``."""
    # Escaping is on for every name: what is chosen by suffix leaves .svg and .txt open.
    made = Environment(
        loader=PackageLoader(package, folder),
        autoescape=True,
        undefined=StrictUndefined,
        extensions=[_Joined],
    )
    made.globals.update(_=_, ngettext=ngettext, pgettext=pgettext, language=spoken)
    return made
