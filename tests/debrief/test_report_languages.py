"""The report in each language as it was last read, and nothing of English left in another."""

import lzma
import re
import sys
from collections.abc import Iterable
from html import unescape
from pathlib import Path

import pytest

from groundstation.cli import main
from groundstation.debrief.drawing import Drawing
from groundstation.language.catalogue import languages
from groundstation.store.writer import Store
from tests.language.test_catalogue import ids_of, texts_of
from tests.support.catalogues import catalogue_of
from tests.support.configurations import DATA, REHEARSAL
from tests.support.reported import as_text, kept, report_in

OLD = Path(__file__).resolve().parents[1] / "store" / "old" / "0008.sqlite.xz"

NUMBER = re.compile(r"\d+(?:[ \u00a0,]\d{3})*(?:[.,]\d+)?")
POINT = re.compile(r"\b(?:[ÉDKNESW]|Ny){1,3}\b")
OURS = {
    "groundstation",
    "europe",
    "debrief",
    "plan",
    "lessons",
    "toml",
    "past",
    "coefficient",
    "drag",
}
"""What a person types, and names in files."""


@pytest.fixture(scope="module")
def page() -> str:
    return report_in("hu")


def words_of(line: str) -> str:
    """Processors add in other orders, so an estimate is not the same to the last bit everywhere."""
    return POINT.sub("@", NUMBER.sub("#", line))


def letters(texts: Iterable[str]) -> set[str]:
    return set(re.findall(r"[^\W\d_]{3,}", " ".join(texts).lower()))


@pytest.mark.slow
@pytest.mark.parametrize("language", languages())
def test_the_report_reads_as_when_it_was_last_read(language: str, page: str) -> None:
    now = page if language == "hu" else report_in(language)
    before = kept(language).read_text("utf-8").splitlines()
    assert list(map(words_of, as_text(now))) == list(map(words_of, before))


@pytest.mark.slow
def test_a_report_in_hungarian_has_nothing_of_english(page: str) -> None:
    told = [one for one in catalogue_of("hu") if one.id]
    english = letters(text for one in told for text in ids_of(one))
    known = letters(text for one in told for text in texts_of(one))
    labels = re.findall(r'(?:aria-label|title|alt)="([^"]*)"', page)
    read = [*as_text(page), *map(unescape, labels)]
    # Names of columns are the person's own.
    plain = [re.sub(r"^humidity: |\b[a-z]+_[a-z]+\b|https?://\S+", "", one) for one in read]
    assert (letters(plain) & english) - known - OURS == set()


@pytest.mark.slow
def test_figures_of_a_report_in_hungarian_have_a_comma(page: str) -> None:
    told = " ".join(as_text(page))
    assert re.findall(r"\d\.\d+ ?(?:km|m/s|m|kg|mp|%)", told) == []
    ticks = re.findall(r'<text class="tick"[^>]*>([^<]*)<', page)
    assert len(ticks) > 50
    assert not [one for one in ticks if "." in one]
    assert '<html lang="hu">' in page


@pytest.mark.slow
def test_what_is_kept_of_it_for_files_stays_as_files_have_it(page: str) -> None:
    [lesson] = re.findall(r"<pre>(.*?)</pre>", page, re.DOTALL)
    assert re.search(r"^ascent_rate_ms = \d\.\d+$", lesson, re.MULTILINE)
    assert "pieces of a minute" in lesson


@pytest.fixture
async def database(tmp_path: Path) -> Path:
    path = tmp_path / "station.db"
    path.write_bytes(lzma.decompress(OLD.read_bytes()))
    async with Store.open(path):
        pass
    return path


def typed(monkeypatch: pytest.MonkeyPatch, *words: object) -> int:
    monkeypatch.setattr(sys, "argv", ["groundstation", "debrief", *map(str, words)])
    with pytest.raises(SystemExit) as stop:
        main()
    return int(stop.value.code or 0)


def test_the_report_speaks_the_language_that_is_asked_for_or_the_stations(
    database: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    out, config = database.with_name("report.html"), database.with_name("station.toml")
    told = {}
    config.write_text(f'{DATA}language = "hu"\n{REHEARSAL}', encoding="utf-8")
    for name, words in (
        ("usual", []),
        ("asked", ["--language", "hu"]),
        ("station", ["--config", config]),
        ("other", ["--config", config, "--language", "en"]),
    ):
        assert typed(monkeypatch, database, *words, "--out", out) == 0, capsys.readouterr().err
        told[name] = out.read_text("utf-8")
        # What a command prints is in English.
        assert "written to" in capsys.readouterr().out
    assert 'lang="en"' in told["usual"]
    assert "Amit láttak" in told["asked"]
    assert 'lang="hu"' in told["station"]
    assert "What was seen" in told["other"]
    assert typed(monkeypatch, database, "--language", "xx", "--out", out) == 2
    assert "give one of en, hu" in capsys.readouterr().err


def test_words_at_two_times_that_are_near_do_not_cover_each_other() -> None:
    drawing = Drawing("Height over time", (0.0, 150.0), (0.0, 30.0))
    drawing.mark(100.0, "kidurrant")
    drawing.mark(137.0, "lent van")
    first, second = (float(one.y) for one in drawing.words)
    assert second - first > 12.0
