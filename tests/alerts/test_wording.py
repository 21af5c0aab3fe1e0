"""What the phone shows: enough in the title, all in the body, whatever is missing."""

import re
from dataclasses import replace
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation.alerts.wording import (
    WordingSettings,
    instruction_text,
    render,
    short_id,
)
from groundstation.errors import ConfigurationError
from groundstation.flight.alert_records import (
    Alert,
    AlertKey,
    AltitudeFrozen,
    Burst,
    CalledOff,
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
    Moved,
    MovedAfterLanding,
    OffPlan,
    ShouldBeDown,
    SilenceCause,
    Silent,
    StationNotice,
    StillClimbing,
    TouchdownSoon,
    TrackersDisagree,
)
from groundstation.flight.settings import BaseSettings
from groundstation.records import (
    Act,
    AlertKind,
    Fix,
    Instruction,
    Landing,
    Phase,
    Place,
)
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
HEAD = Instruction(
    act=Act.HEAD,
    since_utc=NOON_UTC - 60.0,
    phase=Phase.DESCENT,
    where=Place(latitude_deg=47.23456, longitude_deg=20.54321),
    radius_50_m=830.0,
    down_utc=NOON_UTC + 1_500.0,
    launch=Place(latitude_deg=47.0, longitude_deg=20.0),
)
UNHEARD = replace(HEAD, silent_since_utc=NOON_UTC - 720.0)
ORDERS = {
    AlertKind.LAUNCHED: replace(HEAD, act=Act.FOLLOW, where=None, radius_50_m=30_000.0),
    AlertKind.FLOATING: replace(HEAD, act=Act.WAIT),
    AlertKind.SILENT: replace(UNHEARD, act=Act.GO_ON),
    AlertKind.TOUCHDOWN_SOON: replace(HEAD, act=Act.STOP),
    AlertKind.SHOULD_BE_DOWN: replace(UNHEARD, act=Act.SEARCH),
    AlertKind.LANDED: replace(HEAD, act=Act.FETCH, radius_50_m=None),
    AlertKind.MOVED_AFTER_LANDING: replace(HEAD, act=Act.FETCH, radius_50_m=None),
}
FACTS = {
    one.kind: one
    for one in (
        Launched(),
        Burst(altitude_m=30_120.0, planned_m=30_000.0, landing=LANDING),
        Floating(altitude_m=27_300.0, landing=LANDING),
        FallingFast(descent_rate_ms=17.2, planned_ms=5.5, landing=LANDING),
        FallingSlowly(descent_rate_ms=2.2, planned_ms=5.5, landing=LANDING),
        LandingMoved(landing=LANDING),
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
        Landed(fixes=3, within_m=12.0, landing=LANDING),
        MovedAfterLanding(moved_m=3_210.0),
        CalledOff(who="Zsófi"),
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
        moved=Moved(distance_m=3_210.0, bearing_deg=44.0),
        instruction=ORDERS.get(facts.kind, HEAD),
    )
    return replace(whole, **changes)  # type: ignore[arg-type]


def key_of(kind: AlertKind, payload: str = "kanalas-1") -> AlertKey:
    return AlertKey(payload=payload, begun_utc=1_783_160_000, kind=kind, occasion="1")


THERE = "23.7 km NE of base"
"""Of the landing point from base: 23.68 km at 50.9 degrees, so NE."""


@pytest.mark.parametrize(
    ("kind", "title", "first"),
    [
        (AlertKind.LAUNCHED, "launched", "Be ready to leave: it climbs, its landing is known to"),
        (
            AlertKind.BURST,
            "burst at 30.1 km",
            f"Head for the point {THERE} (50 % within 830 m), down",
        ),
        (
            AlertKind.FLOATING,
            "floating at 27.3 km",
            "Wait: it floats and may drift far; now it would land",
        ),
        (AlertKind.FALLING_FAST, "falling fast, 17.2 m/s", "Keep clear, it comes down hard. Head"),
        (AlertKind.FALLING_SLOWLY, "falling slowly, 2.2 m/s", f"Head for the point {THERE} (50 %"),
        (AlertKind.LANDING_MOVED, "landing moved 3.2 km NE", f"Head for the point {THERE} (50 %"),
        (
            AlertKind.OFF_PLAN,
            "landing 14.2 km NE of the plan",
            "Go by the flight, not by the plan.",
        ),
        (
            AlertKind.KEEP_OUT,
            "may land where it must not",
            "Tell those responsible for town East",
        ),
        (AlertKind.CLIMBING_FAST, "climbing fast, 7.1 m/s", "Be ready early: with more gas"),
        (
            AlertKind.CLIMBING_SLOWLY,
            "climbing slowly, 2.1 m/s",
            "Expect a longer and farther",
        ),
        (AlertKind.STILL_CLIMBING, "still climbing at 36.2 km", "Expect it later and elsewhere"),
        (AlertKind.ALTITUDE_FROZEN, "height stands still at 18.0 km", "Go by the region"),
        (AlertKind.TRACKERS_DISAGREE, "trackers disagree by 4.2 km", "Look at the fixes of each"),
        (
            AlertKind.SILENT,
            "silent for 12 min",
            f"Go on to the point {THERE} (50 % within 830 m), down",
        ),
        (AlertKind.HEARD_AGAIN, "heard again after 12 min", f"Head for the point {THERE}"),
        (AlertKind.TOUCHDOWN_SOON, "touchdown in 10 min", "Stop where it is safe and listen: down"),
        (
            AlertKind.SHOULD_BE_DOWN,
            "should be down",
            f"Search from the point {THERE} (50 % within 830 m) outwards",
        ),
        (AlertKind.LANDED, "landed", f"Go to it, {THERE}: it was heard there"),
        (AlertKind.MOVED_AFTER_LANDING, "moved 3.2 km after landing", f"Go to it, {THERE}"),
        (AlertKind.CALLED_OFF, "that was no flight", "Nothing to do: go by nothing that was told"),
        (AlertKind.STATION, "needs you: source mast", "It is not connected."),
    ],
)
def test_each_kind_says_what_happened_and_what_to_do_first(
    kind: AlertKind, title: str, first: str
) -> None:
    message = render(alert(FACTS[kind]), HOME)
    assert message.title == f"kanalas-1: {title}"
    assert message.body.startswith(first)
    last = f"14:05 CEST #{short_id(key_of(kind).text)}"
    assert message.body.endswith("14:05 CEST" if kind is AlertKind.STATION else last)
    assert message.instruction == message.body.splitlines()[0]


@pytest.mark.parametrize("settings", [HOME, WordingSettings()], ids=["base", "launch"])
@pytest.mark.parametrize("kind", AlertKind)
def test_what_a_lock_screen_shows_is_worth_its_place(
    kind: AlertKind, settings: WordingSettings
) -> None:
    """About 110 characters: no coordinates, no id, nothing that the title said already."""
    message = render(alert(FACTS[kind]), settings)
    shown = message.body[:110]
    assert re.search(r"\d\.\d{4}", shown) is None
    assert "#" not in shown
    assert "http" not in shown
    assert message.title.removeprefix("kanalas-1: ").lower() not in shown.lower()


def test_every_kind_has_facts_and_words_of_its_own() -> None:
    assert FACTS.keys() == set(AlertKind) == {one.kind for one in get_args(Facts)}
    assert len({render(alert(facts), HOME).title for facts in FACTS.values()}) == len(AlertKind)


def test_a_landing_point_comes_with_all_that_a_driver_needs() -> None:
    lines = render(alert(FACTS[AlertKind.BURST]), HOME).body.splitlines()
    assert lines[1].endswith("moved 3.2 km NE since it was last told. Planned was 30.0 km.")
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
    assert "Measured at 47.20001, 20.40002" in body_of(AlertKind.MOVED_AFTER_LANDING)
    assert "Measured at 47.23456" in body_of(AlertKind.LANDED)
    unestimated = render(alert(Landed(fixes=3, within_m=12.0)), HOME).body
    assert "Measured at 47.20001" in unestimated
    assert "3 fixes within 12 m." in unestimated
    heard = render(alert(HeardAgain(silent_s=2_000.0, on_ground=True)), HOME)
    assert heard.title == "kanalas-1: heard on the ground"
    assert "Measured at 47.20001, 20.40002" in heard.body
    silent = body_of(AlertKind.SILENT)
    assert "Landing point 47.23456" in silent
    assert "Last fix 14 s old, at 8.2 km, at 47.20001, 20.40002" in silent
    assert "Touchdown" not in body_of(AlertKind.LANDED)


def test_a_burst_without_an_estimate_says_so_and_tells_no_point() -> None:
    order = replace(HEAD, where=None, radius_50_m=None, down_utc=None)
    told = render(alert(Burst(altitude_m=30_120.0), instruction=order, moved=None), HOME)
    assert told.instruction == "It falls; where it lands can't be told yet."
    assert "Landing point" not in told.body


def body_of(kind: AlertKind) -> str:
    return render(alert(FACTS[kind]), HOME).body


@pytest.mark.parametrize(
    ("cause", "words"),
    [
        (SilenceCause.SOURCE_AWAY, "Mend the source mast first: it is not connected."),
        (SilenceCause.DOWN, "down by now, near the landing point."),
        (SilenceCause.BELOW_HORIZON, "As expected, below the horizon of base."),
        (SilenceCause.STILL_ABOVE_CEILING, "below its receiver's ceiling by now"),
        (SilenceCause.NOT_EXPECTED, "it should be well in reach"),
        (SilenceCause.NOT_EXPECTED_WITHOUT_BASE, "without a place for base"),
    ],
)
def test_a_silence_says_what_it_is_taken_for(cause: SilenceCause, words: str) -> None:
    facts = Silent(silent_s=300.0, cause=cause, source="mast")
    assert words in render(alert(facts), HOME).body
    assert {one.value for one in SilenceCause} == {
        "source-away", "down", "below-horizon", "still-above-ceiling", "not-expected",
        "not-expected-without-base",
    }  # fmt: skip


@pytest.mark.parametrize(
    "kind", [AlertKind.LANDED, AlertKind.MOVED_AFTER_LANDING, AlertKind.SILENT]
)
def test_who_walks_up_to_it_is_warned(kind: AlertKind) -> None:
    body = render(
        alert(
            FACTS[kind],
        ),
        HOME,
    ).body
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
    order = replace(HEAD, act=Act.FOLLOW)
    moved = alert(FACTS[AlertKind.LANDING_MOVED], phase=Phase.ASCENT, instruction=order)
    body = render(moved, HOME).body
    assert body.startswith(f"Plan for a landing {THERE} (50 % within 830 m): it has not burst yet.")
    assert "Head for" not in body


@pytest.mark.parametrize("act", Act)
def test_every_instruction_is_a_sentence(act: Act) -> None:
    for order in (replace(HEAD, act=act), Instruction(act=act, since_utc=0.0, phase=Phase.ASCENT)):
        text = instruction_text(order, NOON_UTC, HOME)
        assert text[0].isupper()
        assert text.endswith(".")
        assert len(text) <= 110
        assert "None" not in text
