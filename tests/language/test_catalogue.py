"""The catalogues: whole, fresh, and spoken where they should be."""

import string
import threading
from pathlib import Path

import pytest
from babel.messages.catalog import Message

from groundstation.language.catalogue import _, languages, ngettext, speak, speaking, spoken
from tests.support.catalogues import catalogue_of, compiled, po_of, to_translate

OTHERS = languages()[1:]


def texts_of(message: Message) -> tuple[str, ...]:
    told = message.string
    return (told,) if isinstance(told, str) else tuple(told or ())


def ids_of(message: Message) -> tuple[str, ...]:
    return (message.id,) if isinstance(message.id, str) else tuple(message.id)


def key_of(message: Message) -> tuple[object, ...]:
    return (message.context, *ids_of(message))


def holes(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}


def test_there_is_hungarian() -> None:
    assert languages() == ("en", "hu")


@pytest.mark.parametrize("language", OTHERS)
def test_every_text_is_translated_and_none_is_left_over(language: str) -> None:
    wanted = {key_of(one) for one in to_translate() if one.id}
    known = {key_of(one): texts_of(one) for one in catalogue_of(language) if one.id}
    assert known.keys() == wanted, "python -m tests.support.catalogues"
    assert [ids for ids, told in known.items() if not all(told)] == []
    assert not [one.id for one in catalogue_of(language) if one.fuzzy and one.id]


@pytest.mark.parametrize("language", OTHERS)
def test_what_is_put_in_is_named_alike_in_each_language(language: str) -> None:
    for one in catalogue_of(language):
        if one.id:
            wanted = set.union(*map(holes, ids_of(one)))
            for told in texts_of(one):
                assert holes(told) <= wanted, one.id
            assert holes(texts_of(one)[-1]) == wanted, one.id


@pytest.mark.parametrize("language", OTHERS)
def test_what_is_compiled_is_what_is_written(language: str) -> None:
    compiled_now = compiled(catalogue_of(language))
    assert po_of(language).with_suffix(".mo").read_bytes() == compiled_now


def test_a_language_is_spoken_beside_another() -> None:
    assert (spoken(), _("Caution")) == ("en", "Caution")
    with speaking("hu"):
        assert (spoken(), _("Caution")) == ("hu", "Vigyázat")
    assert _("Caution") == "Caution"
    assert ngettext("{count} dog", "{count} dogs", 2) == "2 dogs"


def test_the_station_speaks_one_language_in_all_its_threads() -> None:
    told: list[str] = []
    try:
        speak("hu")
        thread = threading.Thread(target=lambda: told.append(_("Caution")))
        thread.start()
        thread.join()
    finally:
        speak("en")
    assert told == ["Vigyázat"]


def test_a_language_that_there_is_not_is_an_error() -> None:
    with pytest.raises(FileNotFoundError):
        speak("xx")


def test_catalogues_are_in_the_wheel() -> None:
    text = (Path(__file__).resolve().parents[2] / "pyproject.toml").read_text()
    assert '"**/*.mo"' in text
