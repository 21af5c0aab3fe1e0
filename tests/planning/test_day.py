"""The notice, the brief, the decision: figures against other programs, texts against the forms."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from groundstation.geo.places import known_places
from groundstation.geo.world import World
from groundstation.physics.wind import WindsAloft
from groundstation.planning.brief import brief_html
from groundstation.planning.brief_pictures import box_of, picture
from groundstation.planning.checklist import CHECKLIST
from groundstation.planning.course import course
from groundstation.planning.decision import KeptOutShares, Word, weighed, word
from groundstation.planning.flight_file import read_flight
from groundstation.planning.forecast import Forecast, forecast, plan_settings
from groundstation.planning.notice import notice_lines, notice_text
from groundstation.planning.settings import FlightFile, LimitSettings
from groundstation.planning.spread import Plan, planned
from groundstation.units import Units

EXAMPLE = Path(__file__).resolve().parents[2] / "config" / "flight.toml"
LAUNCH = datetime(2026, 5, 16, 8, 30, tzinfo=UTC).timestamp()
HEIGHTS = np.array([0.0, 40_000.0])


def west(speed_ms: float) -> WindsAloft:
    """The same wind from the west at all heights."""
    return WindsAloft.of("west", HEIGHTS, np.full(2, speed_ms), np.zeros(2), 2.0)


@pytest.fixture(scope="module")
def flight() -> FlightFile:
    return read_flight(EXAMPLE)


@pytest.fixture(scope="module")
def plan(flight: FlightFile) -> Plan:
    return planned(flight)


@pytest.fixture(scope="module")
def flown(flight: FlightFile, plan: Plan) -> Forecast:
    return forecast(flight.name, flight.site, plan_settings(plan), west(10.0), LAUNCH)


def test_in_a_steady_wind_it_goes_as_far_as_it_has_time(
    flight: FlightFile, plan: Plan, flown: Forecast
) -> None:
    """Drift is wind times time, along the geodesic to the east (geographiclib)."""
    middle = course(flight.site, plan_settings(plan), west(10.0))
    whole = middle.time_s[-1]
    there = Geodesic.WGS84.Inverse(
        flight.site.latitude_deg, flight.site.longitude_deg,
        middle.latitude_deg[-1], middle.longitude_deg[-1],
    )  # fmt: skip
    assert there["s12"] == pytest.approx(10.0 * whole, rel=2e-3)
    landing = flown.landing
    away = Geodesic.WGS84.Inverse(
        flight.site.latitude_deg, flight.site.longitude_deg,
        landing.latitude_deg, landing.longitude_deg,
    )  # fmt: skip
    assert away["s12"] == pytest.approx(10.0 * (landing.eta_utc - LAUNCH), rel=0.03)
    assert landing.eta_utc - LAUNCH == pytest.approx(whole, rel=0.08)


def test_60_000_feet_are_reached_when_the_rate_says(flight: FlightFile, plan: Plan) -> None:
    middle = course(flight.site, plan_settings(plan), west(10.0))
    found = middle.reaches(18_288.0)
    assert found is not None
    assert found[0] == pytest.approx((18_288.0 - 85.0) / 5.0, rel=0.01)
    assert middle.reaches(60_000.0) is None


def told(flight: FlightFile, plan: Plan, flown: Forecast) -> str:
    middle = course(flight.site, plan_settings(plan), west(10.0))
    return notice_text(notice_lines(flight, plan, flown, middle))


def test_the_notice_has_what_the_forms_ask_for(
    flight: FlightFile, plan: Plan, flown: Forecast
) -> None:
    """14 CFR 101.37(a)(1) to (8) and SERA Appendix 2, 5.1.2."""
    text = told(flight, plan, flown)
    for asked in (
        r"Identification: +kanalas-1", r"Operator: +Pusztaszél", r"Telephone: +\+36",
        r"Launch site: .*47\.10000, 20\.30000; N 47° 06\.000′ E 020° 18\.000′",
        r"10\.7 NM, 106° true", r"Launch window: +2026-05-16 08:00 UTC to 2026-05-16 09:00 UTC",
        r"10:00 to 11:00 local", r"Balloon at launch: +1\.9 m across", r"Suspension: +12 m",
        r"Payload: +1\.26 kg in all: cameras 0\.90 kg, tracker 0\.25 kg, parachute 0\.11 kg",
        r"60,000 ft \(FL600\): +2026-05-16 09:31 UTC", r"Expected course: +08:50 47\.10",
        r"Expected landing: +2026-05-16 1\d:\d\d UTC", r"Duration: +1\d\d min",
    ):  # fmt: skip
        assert re.search(asked, text), asked
    assert text.startswith("DRAFT")
    assert text.rstrip().endswith("comes back.")


def test_the_notice_is_in_the_units_of_the_person(
    flight: FlightFile, plan: Plan, flown: Forecast
) -> None:
    """By hand: 85 m are 278.9 ft, 1.26 kg 2.78 lb, 12 m 39.4 ft."""
    text = told(replace(flight, units=Units.IMPERIAL), plan, flown)
    for asked in (
        r"Elevation: +279 ft \(85 m\)", r"Balloon at launch: +6\.\d ft across, 2\.\d\d lb",
        r"Suspension: +39 ft", r"Payload: +2\.78 lb in all: cameras 1\.98 lb",
        r"Ascent: +98\d ft/min \(5\.0 m/s\)", r"Highest point: +\d+,\d00 ft \(\d\d\.\d km\)",
    ):  # fmt: skip
        assert re.search(asked, text), (asked, text)


def test_bearing_and_distance_from_the_reference(
    flight: FlightFile, plan: Plan, flown: Forecast
) -> None:
    assert flight.reference is not None
    there = Geodesic.WGS84.Inverse(
        flight.reference.latitude_deg, flight.reference.longitude_deg, 47.10, 20.30
    )
    assert f"{there['s12'] / 1852.0:.1f} NM" in told(flight, plan, flown)


@pytest.mark.parametrize(
    ("wind", "limits", "kept_out", "says"),
    [
        (3.0, {}, {}, Word.GO),
        (7.0, {}, {}, Word.STAY),
        (5.5, {}, {}, Word.WAIT),
        (3.0, {"drift_m": 10_000.0}, {}, Word.STAY),
        (3.0, {}, {"town": 0.2}, Word.STAY),
        (3.0, {}, {"town": 0.01}, Word.GO),
        (3.0, {"daylight_s": 86_000.0}, {}, Word.STAY),
        (7.0, {"ground_wind_ms": None}, {}, Word.GO),
    ],
)
def test_the_persons_own_limits_decide(
    flight: FlightFile, plan: Plan, wind: float, limits: dict[str, Any],
    kept_out: dict[str, float], says: Word,
) -> None:  # fmt: skip
    mine = replace(flight, limits=replace(LimitSettings(), **limits))
    there = forecast(mine.name, mine.site, plan_settings(plan), west(wind), LAUNCH, members=200)
    shares = KeptOutShares(each=kept_out, any=sum(kept_out.values())) if kept_out else None
    assert word(weighed(mine, there, west(wind), shares)) is says


def test_the_brief_stands_alone_and_takes_names_as_text(
    flight: FlightFile, plan: Plan, flown: Forecast
) -> None:
    hostile = replace(flight, name="<script>alert(1)</script>")
    middle = course(flight.site, plan_settings(plan), west(10.0))
    box = np.array([[20.9, 46.9], [21.2, 46.9], [21.2, 47.1], [20.9, 47.1], [20.9, 46.9]])
    html = brief_html(
        hostile, plan, flown, middle,
        weighed(flight, flown, west(3.0), KeptOutShares(each={"<b>town": 0.2}, any=0.2)),
        [("<b>town", [box], 0.0)], ["look"], "caution",
    )  # fmt: skip
    assert "<script>" not in html
    assert "<b>town" not in html
    assert "http" not in html
    assert "By your own limits: stay." in html
    for _, items in CHECKLIST:
        assert all(item in html for item in items)
    for claim in ("legal", "is safe", "permitted"):
        assert claim not in html.lower()


def test_the_brief_has_the_flight_in_it(flight: FlightFile, plan: Plan, flown: Forecast) -> None:
    """When and where in words, what is near by name, the sun, the winds, and how else it may go."""
    middle = course(flight.site, plan_settings(plan), west(10.0), LAUNCH)
    line = np.array([[20.9, 46.9], [21.2, 47.1]])
    html = brief_html(
        flight, plan, flown, middle, weighed(flight, flown, west(3.0)),
        [("railway one", [line], 100.0)], ["look"], "caution", fouled=middle,
        others=["the hill, later"], keep_outs="keep-outs: 0 areas read",
    )  # fmt: skip
    for words in (
        "<th>let go</th><td>2026-05-16 08:30 UTC (10:30 Europe/Budapest), the Circle",
        "<th>comes down</th><td>2026-05-16 1", "nine of ten", "of Kanalas aerodrome (invented)",
        "of railway one", "of daylight left; sunset 2026-05-16 1", "<h2>Winds</h2>",
        "m/s from 270°", "if the canopy fouls", "the hill, later", "keep-outs: 0 areas read",
        "it takes the breath away without a warning", 'class="strip"', "47°</text>",
    ):  # fmt: skip
        assert words in html, words
    assert "in nine of ten)" not in html
    south, west_, north, east = box_of(flown, middle)
    assert south < flown.landing.latitude_deg < north
    assert west_ < flight.site.longitude_deg < east
    known = known_places().within((south, west_, north, east), 40)
    drawn = picture(flight, flown, middle, [], None, known).towns
    assert drawn[0].name == known[0].name, "the largest first"
    spots = [(float(one.x), float(one.y)) for one in drawn]
    assert all(0.0 < x < 640.0 and 0.0 < y < 420.0 for x, y in spots)
    lines = World().around((43.0, 16.0, 44.0, 18.0))
    assert lines["coast"], "the Adriatic"
    assert lines["border"]
    assert picture(flight, flown, middle, [], None, (), lines).ground == [], "it is far from there"
    assert any(
        kind == "river"
        for kind, _ in picture(
            flight, flown, middle, [], None, (), World().around((south, west_, north, east))
        ).ground
    ), "the Tisza"
    # By hand: from 179 E to 179 W are two columns of cells, as from 4 W to 1 E.
    fiji, ghana = World().around((-18.0, 179.0, -16.0, -179.0)), World().around((4, -4, 6, 1))
    assert fiji["coast"]
    assert ghana["coast"]
    # Two of them are as far apart in it as on a geodesic, by its bar of 10 km.
    first, second = (next(one for one in known if one.name == it.name) for it in drawn[:2])
    away = Geodesic.WGS84.Inverse(
        first.latitude_deg, first.longitude_deg, second.latitude_deg, second.longitude_deg
    )["s12"]  # fmt: skip
    bar = float(picture(flight, flown, middle, [], None).bar)
    apart = np.hypot(*(np.array(spots[0]) - spots[1])) / bar * 10_000.0
    assert apart == pytest.approx(away, rel=0.01)
    root = html[html.index("<svg") : html.index("</svg>") + 6]
    ET.fromstring(root)
    imperial = replace(flight, units=Units.IMPERIAL)
    settings = plan_settings(plan)
    flown = forecast(
        flight.name, flight.site, settings, west(10.0), LAUNCH, members=200, shown=imperial.shown
    )
    html = brief_html(
        imperial, plan, flown, middle, weighed(imperial, flown, west(3.0)), [], [], "caution"
    )
    assert " ft/min" in html
    assert " m/s" not in html
    assert " km" not in html
