"""Hungarian endings of names, as a Hungarian says them (from memory, no source)."""

import json
from pathlib import Path

import pytest

from groundstation.language.catalogue import _, speaking
from tests.language.test_page_texts import said_by_node

SAID = {
    "Karcag": "Karcagtól", "Kisújszállás": "Kisújszállástól", "Gyula": "Gyulától",
    "Debrecen": "Debrecentől", "Kecskemét": "Kecskeméttől", "Jászberény": "Jászberénytől",
    "Tiszakécske": "Tiszakécskétől", "Győr": "Győrtől", "Pécs": "Pécstől", "Tápé": "Tápétól",
    "Budapest": "Budapesttől", "Martfű": "Martfűtől", "Madrid": "Madridtól", "Zsófi": "Zsófitól",
    "Ózd": "Ózdtól", "auto 2": "auto 2 helyétől", "Q0HAB-11": "Q0HAB-11 helyétől",
}  # fmt: skip


@pytest.mark.parametrize(("name", "told"), SAID.items())
def test_a_name_takes_its_ending(name: str, told: str) -> None:
    with speaking("hu"):
        said = _("{distance} {way} of {name}", distance="5,4 km", way="ÉK", name=name)
    assert said == f"{told} 5,4 km ÉK felé"


def test_the_page_says_it_as_the_station_does(tmp_path: Path) -> None:
    program = (
        f"console.log(JSON.stringify({json.dumps(list(SAID))}.map((name) =>"
        ' _("{distance} {way} of {name}", { distance: "5,4 km", way: "ÉK", name }))));'
    )
    told = json.loads(said_by_node("hu", program, tmp_path))
    assert told == [f"{one} 5,4 km ÉK felé" for one in SAID.values()]
