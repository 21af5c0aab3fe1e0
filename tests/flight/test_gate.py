"""Which reports are believed, case by case and for any damage."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groundstation.flight.settings import FlightSettings, TrackerSettings
from groundstation.records import Reason, Report
from tests.support.flights import ANY, T0, TRACKER, Told, fold, report

ONE = FlightSettings(payload="kanalas-1", trackers=(TrackerSettings(id=TRACKER),))


def at_once(*reports: Report) -> list[tuple[float, Report]]:
    """Each is received a second after its own time, or a second after the one before."""
    received, out = T0, []
    for one in reports:
        received = one.time_utc + 1.0 if one.time_utc is not None else received + 1.0
        out.append((received, one))
    return out


def climb(count: int, *, every_s: float = 30.0) -> list[Report]:
    return [
        report(n * every_s, 200.0 + 5.0 * every_s * n, lon=20.3 + 0.001 * n) for n in range(count)
    ]


def judged(*reports: Report, settings: FlightSettings = ANY) -> Told:
    return fold(at_once(*reports), settings, estimates=False)


@pytest.mark.parametrize(
    ("one", "reason"),
    [
        (report(0, 100.0), None),
        (report(0, None), None),
        (report(0, 100.0, timed=False), None),
        (report(0, 100.0, valid=False), Reason.NO_FIX),
        (report(0, 100.0, lat=0.0, lon=0.0), Reason.NO_FIX),
        (report(0, 100.0, lat=0.0004, lon=-0.0004), Reason.NO_FIX),
        (report(0, 100.0, lat=90.01), Reason.IMPOSSIBLE),
        (report(0, 100.0, lon=-180.01), Reason.IMPOSSIBLE),
        (report(0, 100.0, lon=180.01), Reason.IMPOSSIBLE),
        (report(0, 100.0, lat=math.nan), Reason.IMPOSSIBLE),
        (report(0, 60_001.0), Reason.IMPOSSIBLE),
        (report(0, -501.0), Reason.IMPOSSIBLE),
        (report(0, math.inf), Reason.IMPOSSIBLE),
        (report(math.nan, 100.0), Reason.BAD_TIME),
        (report(0, 100.0, tracker="Q0ELSE-1"), Reason.UNKNOWN_TRACKER),
        (report(0, 100.0, tracker="q0hab-11"), None),
    ],
)
def test_a_report_by_itself(one: Report, reason: Reason | None) -> None:
    told = fold([(T0 + 1.0, one)], ONE, estimates=False)
    assert told.reasons == [reason]
    if reason is not None:
        assert told.fate[0].detail


def test_a_time_from_the_future_is_refused_until_the_tracker_keeps_to_it() -> None:
    hour = [replace(one, time_utc=(one.time_utc or 0.0) + 3600.0) for one in climb(5)]
    told = fold([(T0 + 30.0 * n, one) for n, one in enumerate(hour)], estimates=False)
    assert told.reasons == [Reason.BAD_TIME, Reason.BAD_TIME, None, None, None]


def test_copies_are_known_whatever_way_they_come() -> None:
    one, other = report(0, 100.0), report(30, 250.0)
    told = fold(
        [(T0 + 1, one), (T0 + 2, one), (T0 + 31, other), (T0 + 900, one), (T0 + 901, other)],
        estimates=False,
    )
    assert told.reasons == [
        None, Reason.DUPLICATE, None, Reason.DUPLICATE, Reason.DUPLICATE,
    ]  # fmt: skip


def test_without_a_time_of_its_own_a_copy_is_known_for_half_a_minute() -> None:
    resting = report(0, 100.0, timed=False)
    told = fold(
        [(T0, resting), (T0 + 20, resting), (T0 + 60, resting), (T0 + 120, resting)],
        estimates=False,
    )
    assert told.reasons == [None, Reason.DUPLICATE, None, None]


def test_a_late_fix_is_kept_and_moves_nothing_back() -> None:
    first, second, third = climb(3)
    told = fold([(T0, first), (T0 + 70, third), (T0 + 75, second)], estimates=False)
    late = told.fate[2].fix
    assert late is not None
    assert late.late
    assert told.last.time_utc == third.time_utc
    # It stands between the other two in the track, for the winds.
    heights = [p.altitude_m for p in told.flights.state("kanalas-1").motion.track.points]
    assert heights == [first.altitude_m, second.altitude_m, third.altitude_m]


FALSE = [
    {"lat": 12.3, "lon": -45.6},
    {"lat": 47.1, "lon": 25.0},
    {"altitude_m": 45_000.0},
    {"altitude_m": 59_000.0, "lat": 48.5},
]


@pytest.mark.parametrize("false", FALSE)
@pytest.mark.parametrize("at", [0, 1, 2, 5, 11])
def test_one_false_fix_never_locks_out_the_good_ones(false: dict[str, float], at: int) -> None:
    """Not even when it comes first, and is believed for want of anything better."""
    good = climb(12)
    moment = good[at].time_utc or 0.0
    wrong = report(
        moment - T0 - 5.0,
        false.get("altitude_m", good[at].altitude_m),
        lat=false.get("lat", 47.1),
        lon=false.get("lon", 20.3),
    )
    told = judged(*good[:at], wrong, *good[at:])
    assert told.fate[at].reason is Reason.JUMP
    others = [reason for number, reason in enumerate(told.reasons) if number != at]
    assert others == [None] * 12
    assert told.last.time_utc == good[-1].time_utc
    highest = told.flights.state("kanalas-1").motion.highest
    assert highest is not None
    assert highest.altitude_m == good[-1].altitude_m


@given(
    st.lists(
        st.tuples(
            st.integers(0, 39),
            st.floats(-89.0, 89.0),
            st.floats(-179.0, 179.0),
            st.floats(-400.0, 59_000.0),
        ),
        max_size=8,
        unique_by=lambda damage: damage[0] // 5,
    )
)
def test_scattered_damage_never_wins(damages: list[tuple[int, float, float, float]]) -> None:
    """At most one false fix in five, anywhere on Earth at any height."""
    good = climb(40)
    damaged = {at: (lat, lon, height) for at, lat, lon, height in damages}
    sent = []
    for number, one in enumerate(good):
        if number in damaged:
            lat, lon, height = damaged[number]
            sent.append(replace(one, latitude_deg=lat, longitude_deg=lon, altitude_m=height))
        else:
            sent.append(one)
    told = judged(*sent)
    for number in range(len(good)):
        if number in damaged:
            continue
        if number >= 38 and 39 in damaged:
            continue
        assert told.fate[number].reason is None, (number, told.fate[number])
    if not {38, 39} & damaged.keys():
        assert told.last.time_utc == good[-1].time_utc


def test_a_real_move_is_believed_at_the_second_fix() -> None:
    """After a silence of minutes the payload may be anywhere; two fixes that agree settle it."""
    good = climb(4)
    there = [report(120.0 + 30 * n, 800.0, lat=48.9, lon=20.3, tracker=TRACKER) for n in range(3)]
    told = judged(*good, *there)
    assert told.reasons[4:] == [Reason.JUMP, None, None] or told.reasons[4:] == [None, None, None]
    assert told.last.latitude_deg == 48.9


def test_trackers_belong_to_payloads() -> None:
    two = (
        ONE,
        FlightSettings(payload="kanalas-2", trackers=(TrackerSettings(id="Q0HAB-12"),)),
    )
    told = fold(
        at_once(report(0, 100.0), report(1, 300.0, tracker="Q0HAB-12", lat=47.5)),
        two,
        estimates=False,
    )
    assert told.reasons == [None, None]
    second = told.flights.state("kanalas-2").motion.last
    assert second is not None
    assert second.latitude_deg == 47.5


def test_after_one_false_fix_that_was_believed_two_good_ones_win_it_back() -> None:
    """4 km aside in half a minute can be; back again within seconds can't."""
    good = climb(6)
    false = report(178.0, 1_050.0, lon=20.3575)
    after = [report(183.0, 1_115.0, lon=20.3061), report(188.0, 1_140.0, lon=20.3063)]
    told = judged(*good, false, *after)
    assert told.reasons == [None] * 6 + [Reason.JUMP, None, None]


def test_two_fixes_at_another_place_are_not_enough_against_all_that_was_heard() -> None:
    good = climb(6)
    there = [report(160.0 + 10.0 * n, 950.0 + 50.0 * n, lat=47.6) for n in range(3)]
    told = judged(*good, *there[:2])
    assert told.reasons[-2:] == [Reason.JUMP, Reason.JUMP]
    told = judged(*good, *there)
    assert told.reasons[-3:] == [None, None, None]


def test_a_fix_says_what_its_report_said() -> None:
    sent = replace(report(0, 100.0), speed_ms=12.5, course_deg=80.0, satellites=9)
    fix = judged(sent).last
    assert (fix.speed_ms, fix.course_deg, fix.satellites) == (12.5, 80.0, 9)
    assert (fix.latitude_deg, fix.longitude_deg, fix.altitude_m) == (47.1, 20.3, 100.0)


def test_a_box_without_a_parachute_is_believed() -> None:
    """100 m/s at 30 km (common practice, no source), heard every half minute."""
    high = [report(30.0 * n, 24_000.0 + 150.0 * n) for n in range(4)]
    fall = [report(120.0 + 30.0 * n, 24_450.0 - 2_700.0 * (n + 1)) for n in range(4)]
    assert judged(*high, *fall).reasons == [None] * 8


def test_a_receiver_that_is_off_by_200_m_for_a_second_is_believed() -> None:
    aside = report(151.0, 955.0, lon=20.305 + 200.0 / 75_900.0)
    assert judged(*climb(6), aside).reasons == [None] * 7


def test_at_rest_each_fix_with_its_own_time_counts() -> None:
    """Where only the time of reception is known, the second is taken for a copy."""
    assert judged(*(report(10.0 * n, 85.0) for n in range(5))).reasons == [None] * 5
    untimed = [(T0 + 10.0 * n, report(0.0, 85.0, timed=False)) for n in range(2)]
    assert fold(untimed, estimates=False).reasons == [None, Reason.DUPLICATE]


def test_without_times_of_its_own_a_slow_climb_is_no_copy() -> None:
    climbing = [(T0 + 10.0 * n, report(0.0, 500.0 + 20.0 * n, timed=False)) for n in range(4)]
    assert fold(climbing, estimates=False).reasons == [None] * 4


@pytest.mark.parametrize(
    ("before", "pause_s", "tracker", "believed"),
    [
        (12, 10.0, "Q0HAB-12", False),
        (4, 10.0, "Q0HAB-12", True),
        (12, 400.0, "Q0HAB-12", True),
        (12, 10.0, TRACKER, True),
    ],
    ids=["against a long track", "against a short one", "against one of before", "its own"],
)
def test_another_tracker_elsewhere_does_not_outvote_one_that_is_heard(
    before: int, pause_s: float, tracker: str, believed: bool
) -> None:
    """Each condition is needed: long believed, heard just now, and another tracker's."""
    good = climb(before)
    assert good[-1].time_utc is not None
    since = good[-1].time_utc - T0 + pause_s
    there = [
        report(since + 10.0 * n, 1_500.0 + 50.0 * n, lat=48.9, tracker=tracker) for n in range(4)
    ]
    told = judged(*good, *there)
    assert told.reasons[before:] == [None if believed else Reason.JUMP] * 4
