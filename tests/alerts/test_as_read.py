"""What the phone says on invented flights, as it was last looked at; recorded ones are held in
``tests/test_scores.py``, which replays them anyway."""

import pytest

from tests.support.as_read import INVENTED, KEPT, _alike, hold, invented, words_of


@pytest.mark.slow
@pytest.mark.parametrize("name", INVENTED)
def test_an_invented_flight_is_told_as_kept(name: str) -> None:
    hold(name, invented(name))


def test_another_word_or_number_is_seen() -> None:
    line = "f05 | payload: burst at 26.2 km | 'Head for the point 146 km NE, down about 16:08.'"
    assert words_of(line) == words_of(line.replace("146", "9,147.5").replace("NE", "ENE"))
    assert words_of(line) != words_of(line.replace("burst", "landed"))
    assert words_of(line) != words_of(line.replace("point", "place"))
    assert _alike("146", "148")
    assert _alike("2.1", "2.3")
    assert not _alike("146", "180")
    assert not _alike("2.1", "2.7")
    assert _alike("23:59", "00:01")
    assert not _alike("16:08", "16:12")


def test_every_open_flight_is_kept() -> None:
    names = {line.partition(" | ")[0] for line in KEPT.read_text("utf-8").splitlines()}
    assert names == {*INVENTED, *(f"f{number:02d}" for number in range(1, 29))}
