"""Several trackers of one payload: the best one leads, another stands in, nothing jumps."""

from collections import Counter

import pytest

from groundstation.flight.settings import FlightSettings, TrackerKind, TrackerSettings
from groundstation.physics.geodesy import distance_m
from groundstation.records import AlertKind, Landing
from groundstation.simulation.flight import Truth
from tests.support.flights import Told, fold
from tests.support.strings import OnString, flown_with, normal_flight

pytestmark = pytest.mark.slow

RADIO, SPARE, MESSENGER = "Q0HAB-11", "Q0HAB-12", "messenger-1"
TRACKERS = (
    TrackerSettings(id=RADIO, interval_s=20.0),
    TrackerSettings(id=SPARE, interval_s=30.0),
    TrackerSettings(id=MESSENGER, interval_s=600.0, kind=TrackerKind.SATELLITE),
)
SETTINGS = FlightSettings(payload="kanalas-1", trackers=TRACKERS, estimate_every_s=20.0)
RADIO_ALONE = OnString(tracker=RADIO, every_s=20.0)


@pytest.fixture(scope="module")
def truth() -> Truth:
    return normal_flight()


@pytest.fixture(scope="module")
def alone(truth: Truth) -> Told:
    """What the leader tells where nothing else is heard."""
    return told(truth, RADIO_ALONE)


def told(truth: Truth, *trackers: OnString, settings: FlightSettings = SETTINGS) -> Told:
    return fold(flown_with(truth, trackers), settings)


def kinds(told: Told) -> Counter[AlertKind]:
    return Counter(alert.kind for alert in told.alerts)


def miss_m(truth: Truth, landing: Landing) -> float:
    return distance_m(landing.latitude_deg, landing.longitude_deg, *truth.landing)


def apart_m(a: Landing, b: Landing) -> float:
    return distance_m(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)


def estimates(told: Told, truth: Truth, low_m: float, high_m: float) -> list[Landing]:
    """Those made while it fell through these heights."""
    heights = dict(zip(truth.time_utc.astype(int).tolist(), truth.altitude_m.tolist(), strict=True))
    return [
        landing
        for landing in told.landings
        if landing.evidence_utc > truth.top_utc
        and low_m <= heights.get(int(landing.evidence_utc), -1.0) <= high_m
    ]


@pytest.mark.parametrize("above_m", [0.0, 250.0, -250.0])
def test_a_second_tracker_with_other_heights_changes_nothing(
    truth: Truth, alone: Told, above_m: float
) -> None:
    both = told(
        truth,
        RADIO_ALONE,
        OnString(tracker=SPARE, every_s=30.0, begins_s=7.0, above_m=above_m, noise_m=10.0),
    )
    assert kinds(both) == kinds(alone)
    assert [change.phase for change in both.phases] == [change.phase for change in alone.phases]
    for kind in (AlertKind.LAUNCHED, AlertKind.BURST, AlertKind.LANDED):
        assert both.times(kind) == alone.times(kind)
    assert both.landings[-1].latitude_deg == alone.landings[-1].latitude_deg


@pytest.mark.parametrize("above_m", [0.0, 200.0, -200.0])
def test_the_hand_over_is_no_jump(truth: Truth, alone: Told, above_m: float) -> None:
    """The leader dies at 15 km in the fall; the spare tells heights 200 m off."""
    dies = OnString(
        tracker=RADIO, every_s=20.0, heard=lambda _s, height, falling: not falling or height > 15e3
    )
    spare = OnString(tracker=SPARE, every_s=30.0, begins_s=7.0, above_m=above_m, noise_m=10.0)
    both = told(truth, dies, spare)
    assert kinds(both)[AlertKind.SILENT] == kinds(alone)[AlertKind.SILENT] == 0
    assert kinds(both)[AlertKind.BURST] == kinds(both)[AlertKind.LANDED] == 1
    assert kinds(both)[AlertKind.TRACKERS_DISAGREE] == 0
    over = estimates(both, truth, 12_500.0, 16_500.0)
    assert len(over) > 5
    for one in over:
        near = min(alone.landings, key=lambda other: abs(other.evidence_utc - one.evidence_utc))
        # A fall whose kind is still being weighed moves by more than one of a single kind did.
        assert apart_m(one, near) < 0.7 * near.radius_50_m
    mine = [miss_m(truth, one) for one in estimates(both, truth, 3_000.0, 12_000.0)]
    theirs = [miss_m(truth, one) for one in estimates(alone, truth, 3_000.0, 12_000.0)]
    assert max(mine) < max(theirs) + 300.0


def test_a_messenger_without_height_never_displaces_one_that_tells_it(
    truth: Truth, alone: Told
) -> None:
    both = told(
        truth,
        RADIO_ALONE,
        OnString(tracker=MESSENGER, every_s=600.0, begins_s=33.0, behind_s=90.0, has_height=False),
    )
    assert kinds(both) == kinds(alone)
    assert [one.latitude_deg for one in both.landings] == [
        one.latitude_deg for one in alone.landings
    ]


def test_a_tracker_without_a_clock_of_its_own_stands_in_without_a_wrong_burst(truth: Truth) -> None:
    """It is a minute behind: at 5 m/s 300 m too low in the climb, 1 km too high in the fall."""
    gaps = OnString(
        tracker=RADIO, every_s=20.0, heard=lambda since, _h, _f: int(since // 600.0) % 2 == 0
    )
    slow = OnString(tracker=SPARE, every_s=60.0, begins_s=13.0, behind_s=60.0, timed=False)
    both = told(truth, gaps, slow)
    assert kinds(both)[AlertKind.BURST] == 1
    assert abs(both.times(AlertKind.BURST)[0] - truth.top_utc) < 240.0
    assert kinds(both)[AlertKind.SILENT] == 0


def test_the_one_that_is_heard_oftener_takes_over(truth: Truth, alone: Told) -> None:
    seldom = OnString(tracker=SPARE, every_s=300.0, begins_s=-200.0)
    often = OnString(
        tracker=RADIO, every_s=20.0, heard=lambda since, _h, _f: not 0.0 < since < 900.0
    )
    both = told(truth, seldom, often)
    assert abs(both.times(AlertKind.BURST)[0] - alone.times(AlertKind.BURST)[0]) < 60.0


def test_one_stuck_at_its_ceiling_gives_way_at_once(truth: Truth) -> None:
    """Its height stands at 18 km while the other goes on telling the true one."""
    reports = [
        (
            at,
            one
            if one.tracker != RADIO or (one.altitude_m or 0.0) < 18_000.0
            else type(one)(
                tracker=RADIO,
                latitude_deg=one.latitude_deg,
                longitude_deg=one.longitude_deg,
                altitude_m=18_000.0,
                time_utc=one.time_utc,
            ),
        )
        for at, one in flown_with(
            truth, (RADIO_ALONE, OnString(tracker=SPARE, every_s=30.0, begins_s=7.0))
        )
    ]
    both = fold(reports, SETTINGS)
    assert kinds(both)[AlertKind.BURST] == 1
    state = both.flights.state("kanalas-1")
    assert state.motion.burst is not None
    assert state.motion.burst.altitude_m == pytest.approx(truth.top_m, abs=200.0)
