"""Endings that a name takes in a sentence: ``{name:tól}`` in a text of the catalogues.

A language that puts its endings to the word needs them for towns, crews and trackers, whose names
no catalogue has.
"""

import string
from collections.abc import Callable, Mapping
from typing import Final

_BACK: Final = "aáoóuú"
_FRONT: Final = "eöőüű"
_LONG: Final = {"a": "á", "e": "é"}


def from_hungarian(name: str) -> str:
    """Away from it: Karcagtól, Kisújszállástól, Gyulától, Debrecentől.

    The last vowel decides, and of i, í and é the one before; a and e at the end are long before an
    ending (the rules of Hungarian vowel harmony, common practice). What ends in no sound is told
    by "helyétől".
    """
    decides = [sound for sound in name.lower() if sound in _BACK + _FRONT]
    if not name[-1:].isalpha() or not any(
        sound in _BACK + _FRONT + "iíé" for sound in name.lower()
    ):
        return f"{name} helyétől"
    stem = name[:-1] + _LONG.get(name[-1], name[-1])
    return stem + ("tól" if decides and decides[-1] in _BACK else "től")


ENDINGS: Final[Mapping[str, Callable[[str], str]]] = {"tól": from_hungarian}


class Formatter(string.Formatter):
    """Fills in a text as ``str.format`` does, and puts endings to names."""

    def format_field(self, value: object, format_spec: str) -> str:
        ending = ENDINGS.get(format_spec)
        if ending is not None:
            return ending(str(value))
        return str(super().format_field(value, format_spec))
