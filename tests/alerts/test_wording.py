"""What the phone shows: enough in the title, all in the body, whatever is missing."""

import math
from dataclasses import replace
from typing import get_args, get_type_hints
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation.alert_records import (
    Alert,
    AlertKey,
    AltitudeFrozen,
    Burst,
    ClimbingFast,
    ClimbingSlowly,
    Facts,
    FallingFast,
    FallingSlowly,
    Floating,
    HeardAgain,
    Landed,
    LandingMoved,
    Launched,
    MayLandInside,
    MovedAfterLanding,
    OffPlan,
    OnGround,
    Place,
    ShouldBeDown,
    SilenceCause,
    Silent,
    StationNotice,
    StillClimbing,
    TouchdownSoon,
    TrackersDisagree,
)
from groundstation.alerts.quantities import (
    altitude_text,
    compass_text,
    distance_text,
    rate_text,
    span_text,
    time_text,
)
from groundstation.alerts.wording import LONGEST_TITLE, WordingSettings, render, short_id
from groundstation.errors import ConfigurationError
from groundstation.flight.settings import BaseSettings
from groundstation.records import AlertKind, Fix, Landing, Phase
from groundstation.units import Units

# 2026-07-04T12:05:00Z, which is 14:05 in Budapest (summer time, UTC+2).
NOON_UTC = 1_783_166_700.0
HOME = WordingSettings(
    timezone="Europe/Budapest", base=BaseSettings(latitude_deg=47.1, longitude_deg=20.3)
)
FIX = Fix(
    payload="kanalas-1",
    tracker="Q0HAB-11",
    source="serial",
    time_utc=NOON_UTC - 14.0,
    received_utc=NOON_UTC - 13.0,
    latitude_deg=47.20001,
    longitude_deg=20.40002,
    altitude_m=8_230.0,
)
LANDING = Landing(
    payload="kanalas-1",
    time_utc=NOON_UTC,
    evidence_utc=NOON_UTC - 14.0,
    phase=Phase.DESCENT,
    latitude_deg=47.23456,
    longitude_deg=20.54321,
    ground_m=85.0,
    eta_utc=NOON_UTC + 1_500.0,
    eta_90_utc=(NOON_UTC + 1_380.0, NOON_UTC + 1_680.0),
    descent_rate_ms=5.4,
    region_50=(),
    region_90=(),
    radius_50_m=830.0,
    radius_90_m=2_140.0,
    basis="ascent winds",
)
FACTS = {
    one.kind: one
    for one in (
        Launched(),
        Burst(altitude_m=30_120.0, planned_m=30_000.0, landing=LANDING),
        Floating(altitude_m=27_300.0, landing=LANDING),
        FallingFast(descent_rate_ms=17.2, planned_ms=5.5, landing=LANDING),
        FallingSlowly(descent_rate_ms=2.2, planned_ms=5.5, landing=LANDING),
        LandingMoved(moved_m=3_210.0, bearing_deg=44.0, landing=LANDING),
        OffPlan(off_m=14_200.0, bearing_deg=44.0, landing=LANDING),
        MayLandInside(area="town East", share=0.31, landing=LANDING),
        ClimbingFast(ascent_rate_ms=7.1, planned_ms=5.0, landing=LANDING),
        ClimbingSlowly(ascent_rate_ms=2.1, planned_ms=5.0, landing=LANDING),
        StillClimbing(altitude_m=36_200.0, landing=LANDING),
        AltitudeFrozen(altitude_m=18_000.0, landing=LANDING),
        TrackersDisagree(apart_m=4_200.0, landing=LANDING),
        Silent(silent_s=720.0, cause=SilenceCause.NOT_EXPECTED, landing=LANDING),
        HeardAgain(silent_s=720.0, landing=LANDING),
        TouchdownSoon(remaining_s=600.0, landing=LANDING),
        ShouldBeDown(landing=LANDING),
        Landed(landing=LANDING),
        MovedAfterLanding(moved_m=3_210.0),
        StationNotice(what="needs you: source mast", more="It is not connected."),
    )
}


def alert(facts: Facts, **changes: object) -> Alert:
    whole = Alert(
        key=key_of(facts.kind),
        time_utc=NOON_UTC,
        phase=Phase.DESCENT,
        facts=facts,
        fix=FIX,
    )
    return replace(whole, **changes)  # type: ignore[arg-type]


def key_of(kind: AlertKind, payload: str = "kanalas-1") -> AlertKey:
    return AlertKey(payload=payload, begun_utc=1_783_160_000, kind=kind, occasion="1")


@pytest.mark.parametrize(
    ("kind", "title", "told"),
    [
        (AlertKind.LAUNCHED, "launched", "Check that every tracker is heard"),
        (AlertKind.BURST, "burst at 30.1 km", "Head for the landing region"),
        (AlertKind.FLOATING, "floating at 27.3 km", "tell those you notified"),
        (AlertKind.FALLING_FAST, "falling fast, 17.2 m/s", "Planned was 5.5 m/s."),
        (AlertKind.FALLING_SLOWLY, "falling slowly, 2.2 m/s", "still be attached"),
        (AlertKind.LANDING_MOVED, "landing moved 3.2 km NE", "Head for the new point"),
        (AlertKind.OFF_PLAN, "landing 14.2 km NE of the plan", "go by the flight"),
        (AlertKind.KEEP_OUT, "may land where it must not", "in town East. The chance is 31 %"),
        (AlertKind.CLIMBING_FAST, "climbing fast, 7.1 m/s", "Planned was 5.0 m/s."),
        (AlertKind.CLIMBING_SLOWLY, "climbing slowly, 2.1 m/s", "may float"),
        (AlertKind.STILL_CLIMBING, "still climbing at 36.2 km", "well above"),
        (AlertKind.ALTITUDE_FROZEN, "height stands still at 18.0 km", "by the clock"),
        (AlertKind.TRACKERS_DISAGREE, "trackers disagree by 4.2 km", "come apart"),
        (AlertKind.SILENT, "silent for 12 min", "Check receiver"),
        (AlertKind.HEARD_AGAIN, "heard again after 12 min", "Last fix 14 s old"),
        (AlertKind.TOUCHDOWN_SOON, "touchdown in 10 min", "Stop where it is safe"),
        (AlertKind.SHOULD_BE_DOWN, "should be down", "Search within the region"),
        (AlertKind.LANDED, "landed", "Ask before entering private land"),
        (AlertKind.MOVED_AFTER_LANDING, "moved 3.2 km after landing", "found it"),
        (AlertKind.STATION, "needs you: source mast", "It is not connected."),
    ],
)
def test_each_kind_says_what_happened_and_what_to_do(
    kind: AlertKind, title: str, told: str
) -> None:
    message = render(alert(FACTS[kind]), HOME)
    assert message.title == f"kanalas-1: {title}"
    assert told in message.body
    assert "14:05 CEST" in message.body
    assert message.body.endswith("#" + short_id(key_of(kind).text))


def test_every_kind_has_facts_and_words_of_its_own() -> None:
    assert FACTS.keys() == set(AlertKind) == {one.kind for one in get_args(Facts)}
    assert len({render(alert(facts), HOME).title for facts in FACTS.values()}) == len(AlertKind)


def test_a_landing_point_comes_with_all_that_a_driver_needs() -> None:
    lines = render(alert(FACTS[AlertKind.BURST]), HOME).body.splitlines()
    assert "Landing point 47.23456, 20.54321" in lines
    assert "Within 830 m (50 %), 2.1 km (90 %)" in lines
    assert "Touchdown 14:30 (14:28 to 14:33)" in lines
    assert "Last fix 14 s old, at 8.2 km" in lines
    assert (
        "https://www.openstreetmap.org/?mlat=47.23456&mlon=20.54321#map=13/47.23456/20.54321"
        in lines
    )
    assert lines[-1].startswith("For the passenger: don't read while driving.")


def test_how_far_and_which_way_from_base() -> None:
    # PROJ (pyproj 3.7.2), WGS 84: 101,592.817 m at 56.551359 degrees.
    far = replace(
        HOME, base=BaseSettings(latitude_deg=40.0, longitude_deg=-105.0), units=Units.METRIC
    )
    there = replace(LANDING, latitude_deg=40.5, longitude_deg=-104.0)
    assert (
        "\n102 km ENE (57°) of base\n"
        in render(alert(Burst(altitude_m=30_120.0, landing=there)), far).body
    )
    miles = replace(far, units=Units.IMPERIAL)
    assert "\n63.1 mi ENE" in render(alert(Burst(altitude_m=30_120.0, landing=there)), miles).body
    assert "of base" not in render(alert(FACTS[AlertKind.BURST]), replace(HOME, base=None)).body


def test_the_place_is_the_one_that_matters() -> None:
    assert "Position 47.20001, 20.40002" in render(alert(FACTS[AlertKind.LAUNCHED]), HOME).body
    assert "Position 47.20001" in render(alert(FACTS[AlertKind.MOVED_AFTER_LANDING]), HOME).body
    assert "Landing point 47.23456" in render(alert(FACTS[AlertKind.LANDED]), HOME).body
    on_the_ground = replace(FIX, time_utc=NOON_UTC)
    assert (
        "Position 47.20001" in render(alert(FACTS[AlertKind.LANDED], fix=on_the_ground), HOME).body
    )
    silent = render(alert(FACTS[AlertKind.SILENT]), HOME).body
    assert "Landing point 47.23456" in silent
    assert "Last fix 14 s old, at 8.2 km, at 47.20001, 20.40002" in silent
    assert "Touchdown" not in render(alert(FACTS[AlertKind.LANDED]), HOME).body


def test_an_expected_silence_asks_for_nothing() -> None:
    facts = Silent(silent_s=300.0, cause=SilenceCause.BELOW_HORIZON, landing=LANDING)
    message = render(alert(facts, phase=Phase.ASCENT), HOME)
    assert message.title == "kanalas-1: silent for 5 min, as expected"
    assert "below the horizon of base" in message.body
    assert "No need to act yet." in message.body
    assert "Check receiver" not in message.body
    assert "power lines" not in message.body


@pytest.mark.parametrize(
    ("cause", "words"),
    [
        (SilenceCause.SOURCE_AWAY, "it was last heard by, mast, is not connected: mend that first"),
        (SilenceCause.DOWN, "down by now, near the landing point. On the ground a radio is heard"),
        (SilenceCause.BELOW_HORIZON, "As expected, below the horizon of base."),
        (SilenceCause.STILL_ABOVE_CEILING, "below its receiver's ceiling by now"),
        (SilenceCause.NOT_EXPECTED, "it should be well in reach"),
        (SilenceCause.NOT_EXPECTED_WITHOUT_BASE, "without a place for base"),
    ],
)
def test_a_silence_says_what_it_is_taken_for(cause: SilenceCause, words: str) -> None:
    facts = Silent(silent_s=300.0, cause=cause, source="mast", on_ground=tuple(OnGround))
    assert words in render(alert(facts), HOME).body
    assert {one.value for one in SilenceCause} == {
        "source-away", "down", "below-horizon", "still-above-ceiling", "not-expected",
        "not-expected-without-base",
    }  # fmt: skip


@pytest.mark.parametrize(
    "kind", [AlertKind.LANDED, AlertKind.MOVED_AFTER_LANDING, AlertKind.SILENT]
)
def test_who_walks_up_to_it_is_warned(kind: AlertKind) -> None:
    body = render(alert(FACTS[kind], phase=Phase.LANDED), HOME).body
    assert "power lines" in body
    assert "water" in body
    assert "private land" in body


def test_feet_and_miles_and_the_phones_own_map() -> None:
    settings = replace(HOME, units=Units.IMPERIAL, map_link="geo:{lat},{lon}")
    message = render(alert(FACTS[AlertKind.BURST]), settings)
    assert message.title == "kanalas-1: burst at 98,800 ft"
    assert "geo:47.23456,20.54321" in message.body.splitlines()
    assert "km" not in message.body
    assert (
        "openstreetmap"
        not in render(alert(FACTS[AlertKind.BURST]), replace(HOME, map_link="")).body
    )


# The factors are exact by definition: 1 ft = 0.3048 m, 1 mi = 1609.344 m.
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (distance_text(7.4, Units.METRIC), "7 m"),
        (distance_text(994.0, Units.METRIC), "990 m"),
        (distance_text(996.0, Units.METRIC), "1.0 km"),
        (distance_text(123_456.0, Units.METRIC), "123 km"),
        (distance_text(61.0, Units.IMPERIAL), "200 ft"),
        (distance_text(1_609.344, Units.IMPERIAL), "1.0 mi"),
        (altitude_text(85.0, Units.METRIC), "80 m"),
        (altitude_text(30_480.0, Units.IMPERIAL), "100,000 ft"),
        (altitude_text(85.0, Units.IMPERIAL), "280 ft"),
        (rate_text(5.08, Units.METRIC), "5.1 m/s"),
        (rate_text(5.08, Units.IMPERIAL), "1,000 ft/min"),
        (span_text(99.0), "99 s"),
        (span_text(100.0), "2 min"),
        (span_text(7_500.0), "2 h 05 min"),
        (span_text(273_600.0), "3 d 4 h"),
        (span_text(-3.0), "0 s"),
        (compass_text(359.0), "N"),
        (compass_text(101.3), "ESE"),
        (time_text(0.0, ZoneInfo("UTC")), "00:00"),
        (time_text(math.nan, ZoneInfo("UTC")), "an unknown time"),
    ],
)
def test_numbers_as_a_person_reads_them(text: str, expected: str) -> None:
    assert text == expected


any_float = st.floats()
any_landing = st.none() | st.builds(
    lambda lat, radius, eta: replace(
        LANDING, latitude_deg=lat, radius_50_m=radius, eta_utc=eta, eta_90_utc=(eta, eta)
    ),
    any_float,
    any_float,
    any_float,
)
any_place = st.builds(
    Place, latitude_deg=any_float, longitude_deg=any_float, altitude_m=st.none() | any_float
)
any_number = {float: any_float, float | None: st.none() | any_float, str: st.text(max_size=20)}
any_facts = st.one_of(
    *(
        st.builds(
            kind,
            **{
                name: any_landing if name == "landing" else any_number.get(hint, st.from_type(hint))
                for name, hint in get_type_hints(kind).items()
                if name not in ("kind", "by_now", "what")
            },
            **({"by_now": st.none() | any_place} if kind is Silent else {}),
            **({"what": st.text(min_size=1, max_size=60)} if kind is StationNotice else {}),
        )
        for kind in get_args(Facts)
    )
)


@given(
    facts=any_facts,
    phase=st.sampled_from(Phase),
    payload=st.text(min_size=1, max_size=80),
    time_utc=any_float,
    fix=st.none()
    | st.builds(
        lambda lat, lon, alt, t: replace(
            FIX, latitude_deg=lat, longitude_deg=lon, altitude_m=alt, time_utc=t
        ),
        any_float,
        any_float,
        st.none() | any_float,
        any_float,
    ),
    units=st.sampled_from(Units),
)
def test_any_alert_can_be_said_and_its_title_fits(
    facts: Facts,
    phase: Phase,
    payload: str,
    time_utc: float,
    fix: Fix | None,
    units: Units,
) -> None:
    key = key_of(facts.kind, payload)
    said = render(
        alert(facts, key=key, phase=phase, time_utc=time_utc, fix=fix), replace(HOME, units=units)
    )
    assert 0 < len(said.title) <= LONGEST_TITLE
    assert "\n" not in said.title
    for word in ("None", "nan", "inf"):
        assert word not in said.body.replace(payload, "")
    assert len(said.body) < 1_500
    assert said.body.endswith(f"#{short_id(key.text)}")


@given(kind=st.sampled_from(AlertKind))
def test_a_long_name_gives_way_to_what_happened(kind: AlertKind) -> None:
    short, long = (
        render(alert(FACTS[kind], key=key_of(kind, payload)), HOME).title
        for payload in ("k", "the-second-payload-of-the-summer-camp")
    )
    assert long.endswith(short.removeprefix("k"))
    assert long.startswith("the-second")


def test_settings_that_can_not_work_are_named() -> None:
    with pytest.raises(ConfigurationError, match="'Europe/Pustza' is not known"):
        WordingSettings(timezone="Europe/Pustza")
    with pytest.raises(ConfigurationError, match=r"timezone '\.\./etc/passwd'"):
        WordingSettings(timezone="../etc/passwd")
    for wrong in ("geo:{latitude},{lon}", "geo:{lat", "geo:{},{}"):
        with pytest.raises(ConfigurationError, match=r"only \{lat\} and \{lon\}"):
            WordingSettings(map_link=wrong)


def test_the_id_tells_alerts_apart() -> None:
    assert short_id("a") == short_id("a")
    assert len({short_id(f"kanalas-1/landing-moved/{n}") for n in range(200)}) == 200


def test_a_point_that_moves_in_the_climb_sends_nobody_there() -> None:
    body = render(alert(FACTS[AlertKind.LANDING_MOVED], phase=Phase.ASCENT), HOME).body
    assert "plan by the region" in body
    assert "Head for" not in body
