"""Named values in a text: lines, commas, forms; and what cannot be told is refused."""

import urllib.parse

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation.decoders.pairs import PairsDecoder, PairsSettings
from groundstation.errors import ConfigurationError
from groundstation.records import Read, Report, Unreadable

NOW = 1_778_922_000.0
LINES = """Tracker: Q0HAB-11
Time: 2026-05-16 09:00:00 UTC
Latitude: 47° 06.000' N
Longitude : 20° 18.000' E
ALTITUDE: 2953 ft
Battery: 3.91 V
see you
"""


def read(text: str, **more: object) -> Read:
    (found,) = PairsDecoder(PairsSettings(**more)).decode(text.encode(), NOW)  # type: ignore[arg-type]
    return found


def test_a_pair_a_line() -> None:
    found = read(
        LINES,
        fields={
            "tracker": "tracker",
            "time": "time",
            "lat": "Latitude",
            "lon": "longitude",
            "alt_m": "Altitude",
            "battery_v": "battery",
        },
    )
    assert isinstance(found, Report)
    assert found.tracker == "Q0HAB-11"
    assert (found.latitude_deg, found.longitude_deg) == pytest.approx((47.1, 20.3))
    assert found.altitude_m == pytest.approx(900.07, abs=0.01)
    assert found.time_utc == NOW
    assert dict(found.telemetry) == {"battery_v": 3.91}


def test_a_form_with_escapes() -> None:
    told = {"id": "Q0 HAB", "lat": "47.1", "lon": "20.3", "at": "16/05/26 09:00:00"}
    found = read(
        urllib.parse.urlencode(told),
        fields={"tracker": "id", "lat": "lat", "lon": "lon", "time": "at"},
        separator="&",
        between="=",
        time_format="%d/%m/%y %H:%M:%S",
    )
    assert isinstance(found, Report)
    assert (found.tracker, found.time_utc) == ("Q0 HAB", NOW)


def test_both_values_in_one() -> None:
    fields = {"lat": "position.0", "lon": "position.1"}
    found = read("Position: 47.1, 20.3\nSpeed: 3", fields=fields, tracker="x")
    assert isinstance(found, Report)
    assert (found.latitude_deg, found.longitude_deg) == (47.1, 20.3)


def test_a_value_that_is_given_twice_and_differs_is_refused() -> None:
    fields = {"lat": "lat", "lon": "lon"}
    found = read("lat: 47.1\nlon: 20.3\n> lat: 48\nlat: 48.0", fields=fields, tracker="x")
    assert isinstance(found, Unreadable)
    assert "more than once" in found.detail
    found = read("lat: 47.1\nlon: 20.3\nlat: 47.1", fields=fields, tracker="x")
    assert isinstance(found, Report)


@pytest.mark.parametrize("text", ["", "hello", "lat=47.1", "lon: 20.3"])
def test_what_is_missing_is_said(text: str) -> None:
    found = read(text, fields={"lat": "lat", "lon": "lon"}, tracker="x")
    assert isinstance(found, Unreadable)


@pytest.mark.parametrize(
    "more", [{"fields": {"lat": "lat"}}, {"fields": {"lat": "", "lon": "b"}}, {"separator": ""}]
)
def test_settings_that_cannot_work(more: dict[str, object]) -> None:
    with pytest.raises(ConfigurationError):
        read("", **({"fields": {"lat": "lat", "lon": "lon"}, "tracker": "x"} | more))


@given(
    values=st.dictionaries(
        st.from_regex(r"[a-z]{1,8}", fullmatch=True), st.text(max_size=20), max_size=5
    ),
    lat=st.decimals(-90, 90, places=5),
    lon=st.decimals(-180, 180, places=5),
)
def test_a_form_of_the_standard_library_is_read_back(
    values: dict[str, str], lat: object, lon: object
) -> None:
    whole = {**values, "thelat": str(lat), "thelon": str(lon)}
    found = read(
        urllib.parse.urlencode(whole, errors="replace"),
        fields={"lat": "thelat", "lon": "thelon"},
        separator="&",
        between="=",
        tracker="x",
    )
    assert isinstance(found, Report)
    assert found.latitude_deg == float(str(lat))
    assert found.longitude_deg == float(str(lon))
