"""What ``plan`` says and writes in each language as it was last read, and nothing of English left
in another."""

import re
from html import unescape
from pathlib import Path

import pytest

from groundstation.jobs.plan import PlanRequest, work
from groundstation.language.catalogue import languages, speaking
from groundstation.planning.readable_figures import METRIC
from tests.debrief.test_report_languages import NUMBER, POINT, letters
from tests.language.test_catalogue import ids_of, texts_of
from tests.support.catalogues import catalogue_of
from tests.support.configurations import DATA, REHEARSAL
from tests.support.planned import Written, kept, planned_in
from tests.support.plans import EXAMPLE, run, told

NOT_WORDS = r"\b[a-z]+_[a-z0-9]+\b|--[a-z-]+|\[landing\]|winds\.csv|SERA|https?://\S+|geonames\.org"
"""Names in files, options and sources."""
NAMES = {"kanalas", "circle", "the", "field", "aerodrome", "invented", "cameras", "tracker",
         "pusztaszél", "balloon", "europe"}  # fmt: skip
"""Of the example's file."""


@pytest.fixture(scope="module")
def hungarian() -> Written:
    return planned_in("hu")


@pytest.mark.parametrize("language", languages())
def test_a_plan_reads_as_when_it_was_last_read(language: str, hungarian: Written) -> None:
    """Processors add in other orders, so figures may differ in the last place."""
    now = (hungarian if language == "hu" else planned_in(language)).lines()
    before = kept(language).read_text("utf-8").splitlines()
    first, second = (
        [POINT.sub("@", NUMBER.sub("#", line)) for line in text] for text in (now, before)
    )
    assert first == second


def test_a_plan_in_hungarian_has_nothing_of_english(hungarian: Written) -> None:
    texts = [text for text in catalogue_of("hu") if text.id]
    english = letters(words for text in texts for words in ids_of(text))
    known = letters(words for text in texts for words in texts_of(text))
    labels = re.findall(r'(?:aria-label|title|alt)="([^"]*)"', hungarian.brief)
    read = [*hungarian.lines(), *map(unescape, labels)]
    plain = [re.sub(NOT_WORDS, "", line) for line in read]
    assert (letters(plain) & english) - known - NAMES == set()
    assert '<html lang="hu">' in hungarian.brief


def test_figures_of_a_plan_in_hungarian_have_a_comma(hungarian: Written) -> None:
    assert re.findall(r"\d\.\d+ ?(?:km|m/s|m³|m|kg|%|NM)\b", "\n".join(hungarian.lines())) == []


def test_a_newton_is_no_north() -> None:
    with speaking("hu"):
        assert METRIC.text("force", 222.0) == "222 N"
        assert METRIC.text("minutes", 300.0) == "5 perc"


def test_what_a_program_reads_of_a_plan_is_english() -> None:
    assert told(EXAMPLE, "--language", "hu") == told(EXAMPLE)


def test_a_plan_speaks_the_language_of_the_station(tmp_path: Path) -> None:
    config = tmp_path / "station.toml"
    config.write_text(f'{DATA}language = "hu"\n{REHEARSAL}', encoding="utf-8")
    assert work(PlanRequest(flight=EXAMPLE, config=config)).language == "hu"
    assert work(PlanRequest(flight=EXAMPLE, config=config, language="en")).language == "en"
    assert "Erre figyeljen" in run(EXAMPLE, "--config", config).stdout
    wrong = run(EXAMPLE, "--language", "xx")
    assert wrong.returncode == 2
    assert "give one of en, hu" in wrong.stderr
