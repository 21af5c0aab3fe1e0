"""Winds over time and place, against an independent integration, and by hand."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from groundstation.physics.wind import WindsAloft
from groundstation.planning.course import course
from groundstation.planning.flight_file import read_flight
from groundstation.planning.forecast import forecast, plan_settings
from groundstation.planning.spread import planned
from groundstation.planning.windfield import WindField, Winds, forecast_sd_ms, winds_at

EXAMPLE = Path(__file__).resolve().parents[2] / "config" / "flight.toml"
LAUNCH = datetime(2026, 5, 16, 8, 30, tzinfo=UTC).timestamp()
HEIGHTS = np.linspace(0.0, 40_000.0, 81)
Array = NDArray[np.float64]


def sheared(hours: float, east_deg: float = 0.0) -> WindsAloft:
    """Stronger with height up to 12 km and weaker above; it turns and grows with the hours, and
    towards the east."""
    jet = np.exp(-(((HEIGHTS - 11_000.0) / 5_000.0) ** 2))
    speed = (4.0 + 26.0 * jet) * (1.0 + 0.15 * hours + 0.2 * east_deg)
    turn = np.radians(90.0 + 20.0 * hours - 30.0 * HEIGHTS / 40_000.0)
    return WindsAloft.of("made", HEIGHTS, speed * np.sin(turn), speed * np.cos(turn), 1.0)


def at(wind: WindsAloft, height: float) -> Array:
    from groundstation.physics.layers import MIDDLE_M  # noqa: PLC0415

    return np.array([np.interp(height, MIDDLE_M, one) for one in (wind.u_ms, wind.v_ms)])


FIELD = WindField(
    tuple(
        Winds(time_utc=LAUNCH + 3_600.0 * hour, place=(lat, lon), aloft=sheared(hour, lon - 20.0))
        for hour in range(-1, 5)
        for lat in (46.0, 49.0)
        for lon in (20.0, 22.0)
    )
)


def test_a_flight_through_changing_sheared_winds_is_that_of_another_integrator() -> None:
    """scipy's solve_ivp (BSD) on the same winds: within 0.5 % of the way."""
    flight = read_flight(EXAMPLE)
    plan = plan_settings(planned(flight))
    middle = course(flight.site, plan, FIELD, LAUNCH)
    knots = middle.time_s, middle.altitude_m

    def speed(time_s: float, place: Array) -> list[float]:
        """Degrees of latitude and longitude a second, on the ellipsoid."""
        lat, lon = place
        hour = time_s / 3_600.0
        low = int(np.floor(hour))
        share, east = hour - low, (lon - 20.0) / 2.0
        height = float(np.interp(time_s, *knots))
        u, v = sum(
            weight * at(sheared(low + h, 2.0 * e), height)
            for h, wh in ((0, 1.0 - share), (1, share))
            for e, we in ((0, 1.0 - east), (1, east))
            if (weight := wh * we) != 0.0
        )
        north = Geodesic.WGS84.Direct(lat, lon, 0.0, 1_000.0)["lat2"] - lat
        right = Geodesic.WGS84.Direct(lat, lon, 90.0, 1_000.0)["lon2"] - lon
        return [north * float(v) / 1_000.0, right * float(u) / 1_000.0]

    end, lat, lon = middle.end
    start = [flight.site.latitude_deg, flight.site.longitude_deg]
    other = solve_ivp(speed, (0.0, end), start, max_step=60.0, rtol=1e-7, atol=1e-9)
    way = sum(
        Geodesic.WGS84.Inverse(*a, *b)["s12"]
        for a, b in zip(other.y.T[:-1], other.y.T[1:], strict=True)
    )
    off = Geodesic.WGS84.Inverse(lat, lon, *other.y[:, -1])["s12"]
    assert way > 60_000.0
    assert off < 0.005 * way
    # The whole spread's middle goes with it, and not with the winds of the launch.
    frozen = course(flight.site, plan, FIELD.at(LAUNCH, (47.1, 20.3)), LAUNCH)
    landing = forecast("x", flight.site, plan, middle.met, LAUNCH).landing
    there = landing.latitude_deg, landing.longitude_deg
    assert Geodesic.WGS84.Inverse(*there, lat, lon)["s12"] < 0.05 * way
    assert Geodesic.WGS84.Inverse(*frozen.end[1:], lat, lon)["s12"] > 0.05 * way


def test_a_wind_that_does_not_change_is_the_same_either_way() -> None:
    flight = read_flight(EXAMPLE)
    plan = plan_settings(planned(flight))
    once = sheared(0.0)
    twice = WindField(tuple(Winds(time_utc=LAUNCH + s, aloft=once) for s in (0.0, 9e3)))
    one, other = (course(flight.site, plan, winds, LAUNCH) for winds in (once, twice))
    assert other.end == pytest.approx(one.end)
    assert other.met.fall is not None


def steady(speed_ms: float) -> WindsAloft:
    return WindsAloft.of("west", np.array([0.0, 4e4]), np.full(2, speed_ms), np.zeros(2), 2.0)


def test_between_columns_of_a_grid_it_is_linear() -> None:
    here, there = (47.0, 20.0), (47.0, 21.0)
    winds = [
        Winds(time_utc=LAUNCH, place=here, aloft=steady(10.0)),
        Winds(time_utc=LAUNCH, place=there, aloft=steady(20.0)),
    ]
    assert winds_at(winds, LAUNCH, (47.0, 20.25)).u_ms == pytest.approx(12.5)
    assert winds_at(winds, LAUNCH, (48.0, 19.0)).u_ms == pytest.approx(10.0)
    later = [*winds, Winds(time_utc=LAUNCH + 3600.0, place=here, aloft=steady(30.0))]
    assert winds_at(later, LAUNCH + 1800.0, here).u_ms == pytest.approx(20.0)


def test_columns_without_a_grid_are_weighed_by_nearness() -> None:
    """Shepard's rule by hand: twice as far counts a quarter."""
    winds = [
        Winds(time_utc=LAUNCH, place=(0.0, 0.0), aloft=steady(10.0)),
        Winds(time_utc=LAUNCH, place=(0.0, 3.0), aloft=steady(20.0)),
        Winds(time_utc=LAUNCH, place=(80.0, 1.0), aloft=steady(15.0)),
    ]
    assert winds_at(winds, LAUNCH, (0.0, 1.0)).u_ms == pytest.approx(12.0, rel=2e-3)


def test_an_older_forecast_is_less_sure() -> None:
    sure = [forecast_sd_ms(hours * 3_600.0) for hours in (0.0, 24.0, 48.0, 72.0)]
    assert sure == pytest.approx([2.2, 2.8, 4.0, 5.5], abs=0.05)
    assert forecast_sd_ms(None) == 3.0
    old = replace(sheared(0.0), sd_ms=sure[3])
    one = WindField((Winds(time_utc=LAUNCH, aloft=old),)).at(LAUNCH, (47.0, 20.0))
    assert one.sd_ms == sure[3]
