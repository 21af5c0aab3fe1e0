"""Daylight: the sun's elevation along the time, where it sets, where it does not, and where it does
not rise."""

import math
from datetime import UTC, datetime

import pytest

from groundstation.planning.sun import daylight_left_s, daylight_text, sun_elevation_deg


def moment(text: str) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()


def noaa_elevation_deg(lat: float, lon: float, time_utc: float) -> float:
    """NOAA's solar calculator, by hand from its low-accuracy equations (J. J. Michalsky 1988, Solar
    Energy 40, 227, good to 0.01 degrees): mean longitude and anomaly, ecliptic longitude, sidereal
    time, hour angle."""
    days = time_utc / 86_400.0 + 2_440_587.5 - 2_451_545.0
    length = math.radians((280.460 + 0.9856474 * days) % 360.0)
    anomaly = math.radians((357.528 + 0.9856003 * days) % 360.0)
    ecliptic = length + math.radians(1.915 * math.sin(anomaly) + 0.020 * math.sin(2.0 * anomaly))
    tilt = math.radians(23.439 - 0.0000004 * days)
    ascension = math.atan2(math.cos(tilt) * math.sin(ecliptic), math.cos(ecliptic))
    declination = math.asin(math.sin(tilt) * math.sin(ecliptic))
    hours = 18.697374558 + 24.06570982441908 * days
    angle = math.radians(15.0 * hours + lon) - ascension
    here = math.radians(lat)
    return math.degrees(
        math.asin(
            math.sin(here) * math.sin(declination)
            + math.cos(here) * math.cos(declination) * math.cos(angle)
        )
    )


PLACES = [(63.43, 10.40), (-78.0, 165.0), (47.1, 20.3), (0.0, 0.0), (-33.9, 151.2), (85.0, -60.0)]


@pytest.mark.parametrize(("lat", "lon"), PLACES)
@pytest.mark.parametrize("day", ["2026-06-20", "2026-05-16", "2026-12-21", "2026-03-20"])
def test_elevation_is_that_of_noaa_through_the_day(lat: float, lon: float, day: str) -> None:
    for hour in range(24):
        at = moment(f"{day}T{hour:02d}:30:00")
        assert sun_elevation_deg(lat, lon, at) == pytest.approx(
            noaa_elevation_deg(lat, lon, at), abs=0.05
        )


@pytest.mark.parametrize(
    ("lat", "lon", "landing", "sunset"),
    [
        (51.4779, 0.0, "2024-03-20T12:00:00", "2024-03-20T18:13:32"),
        (40.0, -105.0, "2024-12-21T20:00:00", "2024-12-21T23:38:02"),
        # The next sunset is that of the local evening, which is after midnight in UTC.
        (40.0, -105.0, "2024-06-21T18:00:00", "2024-06-22T02:32:00"),
    ],
)
def test_daylight_against_known_sunsets(lat: float, lon: float, landing: str, sunset: str) -> None:
    """Sunsets by an independent run of astral 3.2 (Apache-2.0), to two minutes."""
    at = moment(landing)
    assert daylight_left_s(lat, lon, at) == pytest.approx(moment(sunset) - at, abs=120.0)


def test_at_night_no_daylight_is_left() -> None:
    at = moment("2024-03-20T23:00:00")
    assert daylight_left_s(51.5, 0.0, at) == 0.0
    assert daylight_text(51.5, 0.0, at).startswith("none: dark, the sun is 3")


def test_trondheim_in_june_is_not_light_all_night_though_dusk_never_ends() -> None:
    """The sun sets at about 21:37 UTC (23:37 there) and stands 3 degrees below at its lowest."""
    midnight = moment("2026-06-20T23:20:00")
    assert noaa_elevation_deg(63.43, 10.40, midnight) == pytest.approx(-3.1, abs=0.2)
    assert daylight_left_s(63.43, 10.40, midnight) == 0.0
    assert daylight_text(63.43, 10.40, midnight) == (
        "none: twilight, the sun is 3° below the horizon"
    )
    evening = moment("2026-06-20T20:00:00")
    left = daylight_left_s(63.43, 10.40, evening)
    assert noaa_elevation_deg(63.43, 10.40, evening + left) == pytest.approx(-0.833, abs=0.05)
    assert 1.4 * 3600.0 < left < 1.8 * 3600.0


def test_78_south_in_may_is_dark_all_day() -> None:
    for hour in range(24):
        assert daylight_left_s(-78.0, 165.0, moment(f"2026-05-16T{hour:02d}:00:00")) == 0.0
    assert "dark" in daylight_text(-78.0, 165.0, moment("2026-05-16T12:00:00"))


def test_78_north_in_may_is_light_all_day() -> None:
    at = moment("2026-05-16T22:00:00")
    assert daylight_left_s(78.2, 15.6, at) == 24 * 3600.0
    assert daylight_text(78.2, 15.6, at) == "24 h or more: the sun does not set"
