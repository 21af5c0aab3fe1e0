"""What is told to whoever lives there: in both languages, with the contact."""

import re
from pathlib import Path

from groundstation.geo.hazards import read_hazards
from groundstation.language.catalogue import speaking
from groundstation.web.hazard_api import near_told
from groundstation.web.local_notice import notices


def test_it_is_said_in_every_language_what_it_is_and_what_to_mind() -> None:
    told = notices("+36 00 000 0000")
    assert list(told) == ["en", "hu"]
    for text, words in zip(
        told.values(), (("power lines", "batteries"), ("villanyvezeték", "Elem")), strict=True
    ):
        assert all(word in text for word in words)
        assert "+36 00 000 0000" in text
        assert set(re.findall(r"\{(\w+)\}", text)) == {"when", "place", "station"}
    assert "Please call: …" in notices("")["en"]


def test_a_hazard_of_no_kind_is_called_one_in_the_stations_language(tmp_path: Path) -> None:
    file = tmp_path / "hazards.geojson"
    file.write_text(
        '{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {},'
        ' "geometry": {"type": "Point", "coordinates": [20.3, 47.1]}}]}'
    )
    hazards = read_hazards(file)
    assert [one.kind for one in near_told(hazards, 47.1, 20.3)] == ["hazard"]
    with speaking("hu"):
        assert [one.kind for one in near_told(hazards, 47.1, 20.3)] == ["veszély"]
