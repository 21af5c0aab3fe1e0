"""What an estimate rests on, in the station's language.

``Landing.basis`` is English, as the database and the replay's JSON have it: parts with commas
between them. Names of files and services in it stay as they are.
"""

import re
from typing import Final

from groundstation.language.catalogue import N_, _
from groundstation.language.forecast_runs import with_runs
from groundstation.language.numbers import number

PARTS: Final = (
    N_("nothing is flown yet: {rest}"),
    N_("if it flies"),
    N_("ascent winds to {km} km"),
    N_("no winds met"),
    N_("descent fit over {km} km"),
    N_("no planned descent rate"),
    N_("floating: the end of the float is not known"),
    N_("climbing past the planned burst"),
    N_("no plan"),
    N_("no plan of burst and fall"),
    N_("burst as planned"),
    N_("burst and descent as planned"),
    N_("heights by the clock and the drift"),
    N_("winds aloft from {name}"),
    N_("forecast by {name}"),
    N_("forecast"),
    N_("no forecast"),
    N_("terrain"),
    N_("at rest where it was last heard"),
)
_READ: Final = {
    part: re.compile(re.sub(r"\\\{(\w+)\\\}", r"(?P<\1>.+)", re.escape(part))) for part in PARTS
}


def basis_text(basis: str) -> str:
    """``basis`` in the language that is spoken; a part that is not known stays as it is."""
    return with_runs(", ".join(map(_told, basis.split(", "))))


def _told(part: str) -> str:
    for text, form in _READ.items():
        found = form.fullmatch(part)
        if found is not None:
            return _(
                text, **{name: _filled(name, value) for name, value in found.groupdict().items()}
            )
    return part


def _filled(name: str, value: str) -> str:
    if name == "km":
        return number(float(value), 1)
    return _told(value) if name == "rest" else value
