"""Where it is, from where the reader is: from a vehicle, by the name of a town, from base."""

from dataclasses import replace

import pytest

from groundstation.alerts.wording import WordingSettings, instruction_text, render
from groundstation.errors import ConfigurationError
from groundstation.flight.settings import BaseSettings
from groundstation.records import Act, AlertKind, NamedPlace
from tests.alerts.test_wording import FACTS, FIX, HEAD, HOME, NOON_UTC, THERE, alert


def test_where_is_told_from_where_the_reader_is() -> None:
    """The car before a name, a name before base, base before the launch."""
    car = replace(FIX, payload="car", tracker="car", received_utc=NOON_UTC, latitude_deg=47.25)
    town = NamedPlace(name="Karcag", latitude_deg=47.2, longitude_deg=20.49)
    named = replace(HOME, namer=lambda _lat, _lon: town)
    burst = alert(FACTS[AlertKind.BURST])
    both = "Head for the point 11.0 km E of car, 5.6 km NE of Karcag (50 %"
    assert render(burst, named, (car,)).body.startswith(both)
    assert render(burst, named).body.startswith("Head for the point 5.6 km NE of Karcag (50 %")
    assert render(burst, HOME).body.startswith(f"Head for the point {THERE}")
    assert " of its launch (50 %" in render(burst, WordingSettings()).instruction
    long_ago = replace(car, received_utc=NOON_UTC - 4_000.0)
    assert render(burst, HOME, (long_ago,)).body.startswith(f"Head for the point {THERE}")
    here = replace(car, latitude_deg=47.2346, longitude_deg=20.5432)
    assert render(burst, HOME, (here,)).body.startswith("Head for the point where car is")


@pytest.mark.parametrize("act", Act)
def test_the_longest_name_of_a_town_leaves_the_first_line_on_the_lock_screen(act: Act) -> None:
    town = NamedPlace(name="Fábiánsebestyénújtelek", latitude_deg=47.2, longitude_deg=20.49)
    named = replace(HOME, namer=lambda _lat, _lon: town)
    text = instruction_text(replace(HEAD, act=act), NOON_UTC, named)
    assert len(text) <= 110
    if act in (Act.STOP, Act.HEAD, Act.SEARCH, Act.GO_ON):
        assert "of Fábiánsebestyénújtelek" in text


def test_at_sea_base_is_told_where_it_is_nearer_than_any_town() -> None:
    far = NamedPlace(name="Suva", latitude_deg=-18.14, longitude_deg=178.44)
    named = replace(HOME, namer=lambda _lat, _lon: far)
    assert render(alert(FACTS[AlertKind.BURST]), named).body.startswith(
        f"Head for the point {THERE}"
    )
    nowhere = replace(named, base=BaseSettings(latitude_deg=80.0, longitude_deg=-10.0))
    near = replace(
        nowhere, namer=lambda _lat, _lon: replace(far, latitude_deg=46.0, longitude_deg=20.0)
    )
    assert " of Suva" in render(alert(FACTS[AlertKind.BURST]), near).body


def test_a_touch_on_an_alert_starts_navigation_and_its_text_keeps_the_map() -> None:
    driving = replace(HOME, touch_link="geo:{lat},{lon}?q={lat},{lon}")
    head = render(alert(FACTS[AlertKind.BURST]), driving)
    assert head.link == "geo:47.23456,20.54321?q=47.23456,20.54321"
    assert "https://www.openstreetmap.org/?mlat=47.23456&mlon=20.54321" in head.body
    plain = render(alert(FACTS[AlertKind.BURST]), HOME)
    assert plain.link.startswith("https://www.openstreetmap.org/?mlat=47.23456")
    with pytest.raises(ConfigurationError, match="touch_link"):
        WordingSettings(touch_link="{place}")
