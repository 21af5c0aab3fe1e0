"""What the label command does."""

import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from groundstation.config import load
from groundstation.errors import ConfigurationError
from groundstation.html.print_pdf import write_pdf
from groundstation.planning.label import Label, Size, label_html, label_svg


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What the options say; "" where the configuration says it."""

    whose: str
    contact: str
    payload: str
    reward: bool
    languages: tuple[str, str]


def label_of(given: Given, config: Path | None, env: Mapping[str, str]) -> Label:
    """Raises ``ConfigurationError``."""
    whose, contact, payload = given.whose, given.contact, given.payload
    if config is not None:
        settings = load(config, env)
        whose = whose or settings.station.name
        contact = contact or settings.station.contact
        first = settings.payload[0]
        payload = payload or f"{first.name}, {first.tracker[0].id}"
    return Label(
        whose=whose,
        contact=contact,
        payload=payload,
        reward=given.reward,
        languages=given.languages,
    )


def write_label(label: Label, paper: str, out: Path) -> None:
    """As SVG, or as PDF by a browser of this machine. Raises ``ConfigurationError``."""
    size = Size(paper)
    try:
        match out.suffix:
            case ".svg":
                out.write_text(label_svg(label, size), "utf-8")
            case ".pdf":
                with tempfile.TemporaryDirectory(prefix="groundstation-label-") as folder:
                    page = Path(folder) / "label.html"
                    page.write_text(label_html(label, size), "utf-8")
                    write_pdf(page, out)
            case _:
                raise ConfigurationError(f"{out} ends in neither .svg nor .pdf; name it so")
    except OSError as error:
        raise ConfigurationError(f"cannot write {out}: {error.strerror}") from error
