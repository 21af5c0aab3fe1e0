"""What an estimate rests on is told in the station's language, whatever the flight."""

import ast
from pathlib import Path

import pytest

from groundstation.language.catalogue import speaking
from groundstation.web.basis_words import basis_text

FLIGHT = Path(__file__).resolve().parents[2] / "groundstation" / "flight"
WRITERS = {
    "estimate.py": {"_basis", "_as_planned"},
    "whole.py": {"basis"},
    "if_launched.py": {"if_launched"},
}


def written() -> set[str]:
    """Every phrase that the estimate's own functions put into a basis."""
    found = set()
    for name, functions in WRITERS.items():
        tree = ast.parse((FLIGHT / name).read_text("utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.FunctionDef) and node.name in functions:
                found |= {
                    one.value
                    for one in ast.walk(node)
                    if isinstance(one, ast.Constant)
                    and isinstance(one.value, str)
                    and " " in one.value.strip()
                    and "." not in one.value
                    and not one.value.endswith(" ")
                }
    return found


def test_every_phrase_of_an_estimate_is_translated() -> None:
    phrases = written()
    assert {"no winds met", "if it flies", "no plan of burst and fall"} <= phrases
    with speaking("hu"):
        for phrase in phrases:
            told = basis_text(phrase)
            assert not set(told.split()) & set(phrase.split()), phrase


@pytest.mark.parametrize(
    ("basis", "told"),
    [
        (
            "ascent winds to 24.6 km, burst as planned, no planned descent rate, no forecast",
            "az emelkedés szele 24,6 km-ig, durranás a terv szerint,"
            " nincs tervezett süllyedési sebesség, nincs előrejelzés",
        ),
        (
            "nothing is flown yet: no plan of burst and fall, winds aloft from morning.csv",
            "még nem repül: a durranásra és a süllyedésre nincs terv,"
            " magassági szél innen: morning.csv",
        ),
        (
            "winds aloft from model (run of 2026-05-16 06:00 UTC, 3 h before), terrain",
            "magassági szél innen: model (futtatás: 2026-05-16 06:00 UTC, 3 órával előtte),"
            " domborzat",
        ),
        ("something new", "something new"),
    ],
)
def test_figures_and_names_stay(basis: str, told: str) -> None:
    assert basis_text(basis) == basis
    with speaking("hu"):
        assert basis_text(basis) == told
