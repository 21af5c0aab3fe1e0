"""What stands on the box, for whoever finds it: one side of A6 or A7, in two languages."""

import re
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from markupsafe import Markup

from groundstation.errors import ConfigurationError
from groundstation.html.qr_code import in_svg
from groundstation.html.templates import templates
from groundstation.language.catalogue import _, languages, speaking

WIDTH_MM: Final = 105.0  # ISO 216: A6; A7 is the same, smaller
MARGIN_MM: Final = 5.0  # own choice: what home printers leave white
COLUMN_MM: Final = (WIDTH_MM - 2 * MARGIN_MM - 4.0) / 2  # two, 4 mm apart

LETTER: Final = 0.58  # see below
BOLD_LETTER: Final = 0.66
"""The width of a letter, of the size of the type: a little more than in the widest of the label's
own lines in DejaVu Sans (0.56, bold 0.64), which is wider than most fonts."""

MOST_WHOSE: Final = 50  # see below
MOST_BESIDE: Final = 33
"""Letters that fit in type that can still be read, 5 points on A7 (own choice)."""

_PHONE: Final = re.compile(r"\+?[0-9][0-9 ()/.-]{4,}")
_MAIL: Final = re.compile(r"[^@\s]+@[^@\s]+\.[^@\s]+")


class Size(StrEnum):
    """ISO 216."""

    A6 = "A6"
    A7 = "A7"

    @property
    def mm(self) -> tuple[int, int]:
        return (105, 148) if self is Size.A6 else (74, 105)


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """``whose`` it is, what a finder calls or writes to, the ``payload``'s name or call sign.

    Raises ``ConfigurationError`` for a contact that is neither a phone number, a mail address nor
    an https address, and for languages that there are not.
    """

    whose: str
    contact: str
    payload: str = ""
    reward: bool = False
    languages: tuple[str, str] = ("en", "hu")

    def __post_init__(self) -> None:
        if not self.whose.strip():
            raise ConfigurationError("whose is it? Give --whose NAME, or station.name")
        contact_address(self.contact)
        for what, text, most in (
            ("whose", self.whose, MOST_WHOSE),
            ("contact", self.contact, MOST_BESIDE),
            ("payload", self.payload, MOST_BESIDE),
        ):
            if len(text) > most:
                raise ConfigurationError(
                    f"{what}: {text!r} is too long for a label; give at most {most} letters"
                )
        for language in self.languages:
            if language not in languages():
                raise ConfigurationError(
                    f"there is no language {language!r}; there are {', '.join(languages())}"
                )


@dataclass(frozen=True, slots=True)
class Line:
    """A line of text whose left end, or middle, is at ``x_mm``, on the base line ``y_mm``."""

    text: str
    x_mm: float
    y_mm: float
    size_mm: float
    bold: bool = False
    middle: bool = False
    light: bool = False


def contact_address(contact: str) -> str:
    """What the code holds: tel: (RFC 3966), mailto: (RFC 6068), or the https address itself."""
    plain = contact.strip()
    if _PHONE.fullmatch(plain):
        return f"tel:{re.sub(r'[^0-9+]', '', plain)}"
    if _MAIL.fullmatch(plain):
        return f"mailto:{plain}"
    if plain.startswith("https://") and " " not in plain:
        return plain
    raise ConfigurationError(
        f"{contact!r} is no contact: give a phone number with its country (+36 …), a mail address"
        " or an https address by --contact, or station.contact in the configuration"
    )


def label_svg(label: Label, size: Size) -> str:
    """The label as SVG 1.1, in millimetres."""
    width, height = size.mm
    code = in_svg(contact_address(label.contact), error="q")
    return (
        templates("groundstation.planning")
        .get_template("label.svg")
        .render(
            width=width,
            height=height,
            drawn=Size.A6.mm,
            lines=lines_of(label),
            # The code's own element, placed by the one around it.
            code=Markup(code),
        )
    )


def label_html(label: Label, size: Size) -> str:
    """The label as a page of its size, to be printed."""
    width, height = size.mm
    page = templates("groundstation.planning").get_template("label.html")
    return page.render(width=width, height=height, svg=Markup(label_svg(label, size)))


def lines_of(label: Label) -> list[Line]:
    """All that is written on it, on A6."""
    return [*_title(label), *_who(label), *_contact(label), *_cautions(label)]


def _title(label: Label) -> list[Line]:
    found = []
    for n, language in enumerate(label.languages):
        with speaking(language):
            text = _("Harmless balloon experiment")
        size = _fitting(text, WIDTH_MM - 2 * MARGIN_MM, 6.6, BOLD_LETTER)
        found.append(Line(text, WIDTH_MM / 2, 9.5 + 9.0 * n, size, True, True, True))
    return found


def _who(label: Label) -> list[Line]:
    found = []
    for n, language in enumerate(label.languages):
        with speaking(language):
            came = _("It came down by parachute. It belongs to:")
            ask = _("Please call or write: we come and fetch it.")
        found += _column(n, came, 28.8, 3.4, 4.0)
        found += _column(n, ask, 50.4, 3.2, 4.0, bold=True)
    size = _fitting(label.whose, WIDTH_MM - 2 * MARGIN_MM, 5.6, BOLD_LETTER)
    return [*found, Line(label.whose, WIDTH_MM / 2, 43.8, size, bold=True, middle=True)]


def _contact(label: Label) -> list[Line]:
    left = MARGIN_MM + 36.0
    room = WIDTH_MM - MARGIN_MM - left
    size = _fitting(label.contact, room, 7.0, BOLD_LETTER)
    found = [Line(label.contact, left, 70.0, size, bold=True)]
    if label.payload:
        size = _fitting(label.payload, room, 4.6, LETTER)
        found.append(Line(label.payload, left, 77.0, size))
    for n, language in enumerate(label.languages):
        with speaking(language):
            text = (
                _("The finder gets a reward.")
                if label.reward
                else _("There is no reward, but many thanks.")
            )
        found.append(Line(text, left, 85.0 + 6.0 * n, _fitting(text, room, 3.8, LETTER)))
    return found


def _cautions(label: Label) -> list[Line]:
    found = []
    for n, language in enumerate(label.languages):
        with speaking(language):
            head, texts = _("Caution"), cautions()
        found.append(Line(head, _column_mm(n), 102.5, 3.6, bold=True))
        y = 107.0
        for text in texts:
            lines = _column(n, text, y, 2.6, 3.2)
            found += lines
            y += 3.2 * len(lines) + 0.9
    return found


def cautions() -> tuple[str, ...]:
    """What a finder should mind; common practice, no source."""
    return (
        _(
            "In a tree, on a roof, near a power line, on a road or railway, in water: leave it"
            " there and call us."
        ),
        _("It holds batteries: do not open, heat or burn it. If it smokes or swells, keep away."),
        _("Keep balloon and cord away from flames, animals and small children."),
    )


def _column_mm(n: int) -> float:
    return MARGIN_MM + n * (COLUMN_MM + 4.0)


def _fitting(text: str, room_mm: float, most_mm: float, letter: float) -> float:
    """The largest size of type, up to ``most_mm``, in which ``text`` fits."""
    return round(min(most_mm, room_mm / (letter * max(len(text), 1))), 2)


def _column(
    n: int, text: str, y_mm: float, size_mm: float, step_mm: float, *, bold: bool = False
) -> list[Line]:
    """``text`` in lines that fit into column ``n``, from ``y_mm`` down."""
    lines = _wrapped(text, size_mm, BOLD_LETTER if bold else LETTER)
    return [
        Line(line, _column_mm(n), y_mm + step_mm * k, size_mm, bold) for k, line in enumerate(lines)
    ]


def _wrapped(text: str, size_mm: float, letter: float) -> list[str]:
    """Lines that fit into a column."""
    most = int(COLUMN_MM / (letter * size_mm))
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if len(longer) <= most or not lines[-1]:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
