"""The label for the box: it fits, its code is read, and it says what a finder must know."""

import io
import re
from pathlib import Path

import matplotlib
import pytest
import resvg_py
import zxingcpp
from click.testing import CliRunner
from PIL import Image, ImageFont

from groundstation.commands.label import label as command
from groundstation.errors import ConfigurationError
from groundstation.planning.label import (
    BOLD_LETTER,
    COLUMN_MM,
    LETTER,
    MARGIN_MM,
    WIDTH_MM,
    Label,
    Line,
    Size,
    cautions,
    contact_address,
    label_svg,
    lines_of,
)

WHOSE = "Pusztaszél Balloon Circle"
LABEL = Label(whose=WHOSE, contact="+36 00 000 0000", payload="kanalas-1, Q0HAB-11")
LONG = Label(
    whose="Pusztaszél Balloon Circle of the Secondary School",
    contact="balloon.circle@school.example.net",
    payload="kanalas-1 of the school, Q0HAB-11",
    reward=True,
    languages=("hu", "en"),
)


def width_mm(line: Line) -> float:
    """As DejaVu Sans has it, which is wider than most (the fonts come with matplotlib)."""
    name = "DejaVuSans-Bold.ttf" if line.bold else "DejaVuSans.ttf"
    font = ImageFont.truetype(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / name, 100)
    return float(font.getlength(line.text)) / 100.0 * line.size_mm


@pytest.mark.parametrize("label", [LABEL, LONG], ids=["usual", "long"])
def test_every_line_stays_in_its_place(label: Label) -> None:
    lines = lines_of(label)
    for line in lines:
        width = width_mm(line)
        left = line.x_mm - width / 2 if line.middle else line.x_mm
        assert left >= MARGIN_MM - 0.1, line
        in_column = not line.middle and line.x_mm == MARGIN_MM
        assert left + width <= (MARGIN_MM + COLUMN_MM + 2.0 if in_column else WIDTH_MM - 3.0), line
        assert line.y_mm < Size.A6.mm[1] - 2.0, line
        # 5 points on A7, in type of 25.4 / 72 mm: small print that can still be read.
        assert line.size_mm * 74 / 105 >= 5.0 * 25.4 / 72
    for one in lines:
        for other in lines:
            beside = one.x_mm != other.x_mm and not (one.middle or other.middle)
            if one is not other and not beside and one.y_mm <= other.y_mm:
                assert other.y_mm - one.y_mm > 0.95 * other.size_mm, (one, other)


def test_the_widths_that_it_counts_with_are_those_of_its_texts() -> None:
    for bold, counted in ((False, LETTER), (True, BOLD_LETTER)):
        lines = [line for line in [*lines_of(LABEL), *lines_of(LONG)] if line.bold is bold]
        widest = max(width_mm(line) / line.size_mm / len(line.text) for line in lines)
        assert counted - 0.05 < widest < counted


@pytest.mark.parametrize("size", Size)
@pytest.mark.parametrize(
    ("contact", "address"),
    [
        # RFC 3966 section 5.1.1: a number with its country, without what is for the eye.
        ("+36 (00) 000-0000", "tel:+36000000000"),
        ("kanalas@example.net", "mailto:kanalas@example.net"),
        ("https://balloon.example.net/found", "https://balloon.example.net/found"),
    ],
)
def test_a_phone_reads_whom_to_call(size: Size, contact: str, address: str) -> None:
    """Drawn at 200 dots an inch by resvg, read by ZXing's reader."""
    svg = label_svg(Label(whose=WHOSE, contact=contact), size)
    picture = resvg_py.svg_to_bytes(svg_string=svg, dpi=200)
    image = Image.open(io.BytesIO(bytes(picture))).convert("L")
    assert image.width == pytest.approx(size.mm[0] / 25.4 * 200, abs=2)
    [seen] = zxingcpp.read_barcodes(image)
    assert seen.text == contact_address(contact) == address


def test_it_says_whose_it_is_and_what_to_mind_in_both_languages() -> None:
    told = " ".join(line.text for line in lines_of(LABEL))
    for text in (WHOSE, "+36 00 000 0000", "kanalas-1, Q0HAB-11", "Harmless", "Ártalmatlan"):
        assert text in told
    assert "no reward" in told
    assert "Jutalom nincs" in told
    assert "A megtaláló jutalmat kap." in " ".join(line.text for line in lines_of(LONG))
    words = " ".join(cautions())
    for hazard in ("tree", "power line", "road", "water", "batteries", "children"):
        assert hazard in words


@pytest.mark.parametrize("wrong", ["", "call us", "0", "kanalas@", "http://example.net"])
def test_a_contact_that_nobody_can_use_is_refused(wrong: str) -> None:
    with pytest.raises(ConfigurationError, match="is no contact"):
        Label(whose=WHOSE, contact=wrong)


def test_what_is_missing_is_named(tmp_path: Path) -> None:
    with pytest.raises(ConfigurationError, match="whose is it"):
        Label(whose=" ", contact="kanalas@example.net")
    with pytest.raises(ConfigurationError, match="there is no language 'xx'; there are en, hu"):
        Label(whose=WHOSE, contact="kanalas@example.net", languages=("en", "xx"))
    with pytest.raises(ConfigurationError, match="is too long for a label"):
        Label(whose="Pusztaszél " * 5, contact="kanalas@example.net")
    given = ["--whose", WHOSE, "--contact", "a@example.net", "--out", str(tmp_path / "a.png")]
    assert "name it so" in str(CliRunner().invoke(command, given).exception)


def test_markup_in_a_name_stays_text() -> None:
    svg = label_svg(Label(whose="<b>&", contact="a@example.net"), Size.A6)
    assert "&lt;b&gt;&amp;" in svg


@pytest.mark.live
def test_the_pdf_has_the_size_of_the_paper(tmp_path: Path) -> None:
    config = tmp_path / "station.toml"
    config.write_text(
        '[station]\nname = "Pusztaszél"\ncontact = "+36 00 000 0000"\ndata_dir = "data"\n'
        '[[payload]]\nname = "kanalas-1"\n[[payload.tracker]]\nid = "Q0HAB-11"\n'
        '[[source]]\nname = "r"\nkind = "recording"\npath = "resource:rehearsal.txt"\n'
    )
    out = tmp_path / "label.pdf"
    given = ["--config", str(config), "--size", "A7", "--out", str(out)]
    done = CliRunner().invoke(command, given)
    assert done.exit_code == 0, done.output
    pages = re.findall(rb"/MediaBox \[([0-9. ]+)\]", out.read_bytes())
    assert len(pages) == 1
    left, top, right, bottom = map(float, pages[0].split())
    # 74 x 105 mm in points of 1/72 inch.
    assert (right - left, bottom - top) == pytest.approx((74 / 25.4 * 72, 105 / 25.4 * 72), abs=1.0)
