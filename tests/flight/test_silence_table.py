"""Situations, one a row: what was heard until when, and what the silence then is taken to mean."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import pytest

from groundstation.flight.alert_records import Alert, OnGround, ShouldBeDown, SilenceCause, Silent
from groundstation.flight.events import Tick
from groundstation.flight.fold import step
from groundstation.flight.settings import (
    BaseSettings,
    FlightSettings,
    PlanSettings,
    TrackerKind,
    TrackerSettings,
)
from groundstation.flight.state import FlightState
from groundstation.records import AlertKind, Landing, Urgency
from groundstation.simulation.flight import Truth
from tests.support.flights import fold
from tests.support.strings import OnString, flown_with, normal_flight

RADIO = TrackerSettings(id="Q0HAB-11", interval_s=20.0)
LOW_RADIO = replace(RADIO, ceiling_m=18_000.0)
MESSENGER = TrackerSettings(id="messenger-1", kind=TrackerKind.SATELLITE, interval_s=600.0)
TAG = TrackerSettings(id="tag-1", kind=TrackerKind.CELLULAR, interval_s=120.0)
SPARE = TrackerSettings(id="Q0HAB-12", interval_s=30.0)

EVERY_S = 5.0  # the rows ask for minutes
OF_SILENCE = (AlertKind.SILENT, AlertKind.SHOULD_BE_DOWN)

Heard = Callable[[float, float, bool], bool]


def always(_since: float, _height: float, _falling: bool) -> bool:
    return True


def never(_since: float, _height: float, _falling: bool) -> bool:
    return False


def climbing_below(height_m: float) -> Heard:
    return lambda _since, height, falling: not falling and height < height_m


def until_falling_through(height_m: float) -> Heard:
    return lambda _since, height, falling: not falling or height > height_m


def under_ceiling(_since: float, height: float, _falling: bool) -> bool:
    return height < 18_000.0


@dataclass(frozen=True, kw_only=True)
class Row:
    """``heard`` by tracker; then the causes that are told, in order, and how they are told."""

    name: str
    heard: tuple[tuple[TrackerSettings, Heard], ...]
    causes: tuple[SilenceCause, ...]
    urgency: Urgency | None = None
    far_base: bool = False
    within_s: float | None = None
    lands: bool = False
    """Whether its landing is heard."""


TABLE = [
    Row(
        name="a radio in plain sight goes silent in the climb",
        heard=((RADIO, climbing_below(12_000.0)),),
        causes=(SilenceCause.NOT_EXPECTED,),
        urgency=Urgency.NORMAL,
        within_s=190.0,
    ),
    Row(
        name="a radio goes silent high in the fall: that is early, and urgent",
        heard=((RADIO, until_falling_through(20_000.0)),),
        causes=(SilenceCause.NOT_EXPECTED,),
        urgency=Urgency.HIGH,
        within_s=190.0,
    ),
    Row(
        name="a radio sinks below the horizon of a base far away: nothing to do, so nothing told",
        heard=((RADIO, until_falling_through(2_100.0)),),
        causes=(),
        far_base=True,
    ),
    Row(
        name="a satellite messenger has no horizon: the same silence is not expected",
        heard=((replace(MESSENGER, id="often", interval_s=60.0), until_falling_through(7_000.0)),),
        causes=(SilenceCause.NOT_EXPECTED,),
        far_base=True,
    ),
    Row(
        name="above its receiver's ceiling nothing is said, and nothing when it is back",
        heard=((LOW_RADIO, under_ceiling),),
        causes=(),
        lands=True,
    ),
    Row(
        name="it stays away when it should be below its ceiling again",
        heard=((LOW_RADIO, climbing_below(18_000.0)),),
        causes=(SilenceCause.STILL_ABOVE_CEILING,),
        urgency=Urgency.NORMAL,
    ),
    Row(
        name="a cellular tag is not heard aloft; when it is due down, that is told",
        heard=((TAG, climbing_below(2_000.0)),),
        causes=(),
    ),
    Row(
        name="a messenger at its usual ten minutes is no silence before the ground",
        heard=((MESSENGER, always),),
        causes=(),
    ),
    Row(
        name="one of two falls silent, the other is heard",
        heard=((RADIO, climbing_below(5_000.0)), (SPARE, always)),
        causes=(),
        lands=True,
    ),
    Row(
        name="a tag lost after the launch does not make the radio's silence an expected one",
        heard=((RADIO, climbing_below(12_000.0)), (TAG, climbing_below(2_000.0))),
        causes=(SilenceCause.NOT_EXPECTED,),
    ),
    Row(
        name="a tracker that was never heard is not missed",
        heard=((RADIO, always), (SPARE, never)),
        causes=(),
        lands=True,
    ),
]


def landing_of(truth: Truth, state: FlightState, spread_s: float) -> Landing:
    """A landing estimate that is right, so that the rows test the silence and not the estimate."""
    latitude, longitude = truth.landing
    assert state.motion.last is not None
    return Landing(
        payload=state.payload,
        time_utc=state.motion.last.time_utc,
        evidence_utc=state.motion.last.time_utc,
        phase=state.motion.phase,
        latitude_deg=latitude,
        longitude_deg=longitude,
        ground_m=truth.ground_m,
        eta_utc=truth.touchdown_utc,
        eta_90_utc=(truth.touchdown_utc - spread_s, truth.touchdown_utc + spread_s),
        descent_rate_ms=truth.descent_rate_ms,
        region_50=(),
        region_90=(),
        radius_50_m=1_000.0,
        radius_90_m=3_000.0,
        basis="given by the test",
    )


def settings_for(row: Row, truth: Truth) -> FlightSettings:
    """A base under the middle of the track, or at the launch."""
    at = 0 if row.far_base else len(truth.time_utc) // 2
    base = BaseSettings(
        latitude_deg=float(truth.latitude_deg[at]),
        longitude_deg=float(truth.longitude_deg[at]),
        altitude_m=truth.ground_m,
    )
    return FlightSettings(
        payload="kanalas-1",
        trackers=tuple(tracker for tracker, _ in row.heard),
        plan=PlanSettings(burst_altitude_m=truth.top_m, burst_altitude_sd_m=1_500.0),
        base=base,
        ground_m=truth.ground_m,
    )


@pytest.fixture(scope="module")
def truth() -> Truth:
    return normal_flight(4)


def silences(row: Row, truth: Truth) -> tuple[list[Alert], float]:
    """What is told of silence and of a touchdown that nobody heard, until an hour after it, and
    when it was last heard."""
    settings = settings_for(row, truth)
    strings = [
        OnString(
            tracker=tracker.id,
            every_s=tracker.interval_s,
            begins_s=3.0 * n,
            heard=heard,
            has_height=tracker is not MESSENGER,
        )
        for n, (tracker, heard) in enumerate(row.heard)
    ]
    reports = flown_with(truth, strings)
    told = fold(reports, settings, estimates=False)
    [payload] = told.flights.payloads
    alerts = list(told.alerts)
    # What is told while it is heard, and then the silence at the end with a true estimate at hand.
    state = told.flights.state(payload)
    spread = 60.0 if state.motion.burst else 600.0
    state = replace(state, landing=landing_of(truth, state, spread))
    last = reports[-1][0]
    now = last
    while now < truth.touchdown_utc + 3_600.0:
        now += EVERY_S
        state, outcomes = step(settings, state, Tick(now_utc=now))
        alerts += [one for one in outcomes if isinstance(one, Alert)]
    return [one for one in alerts if one.kind in OF_SILENCE], last


def silence_of(alert: Alert) -> Silent:
    assert isinstance(alert.facts, Silent)
    return alert.facts


def hints_of(alert: Alert) -> tuple[OnGround, ...]:
    assert isinstance(alert.facts, ShouldBeDown)
    return alert.facts.hints


@pytest.mark.parametrize("row", TABLE, ids=[row.name for row in TABLE])
def test_a_silence_is_taken_for_what_it_is(row: Row, truth: Truth) -> None:
    alerts, last = silences(row, truth)
    found = [one for one in alerts if one.kind is AlertKind.SILENT]
    assert [one.kind for one in alerts].count(AlertKind.SHOULD_BE_DOWN) == (not row.lands)
    assert len(found) == len(row.causes), [one.facts for one in found]
    for alert, cause in zip(found, row.causes, strict=True):
        silence = silence_of(alert)
        assert silence.cause is cause
        if row.urgency is not None:
            assert alert.urgency is row.urgency
        if row.within_s is not None:
            assert alert.time_utc - last <= row.within_s


def test_where_it_should_be_now_is_near_where_it_is(truth: Truth) -> None:
    """Heard down to 20 km: after three silent minutes the height is known to a tenth."""
    row = next(row for row in TABLE if "high in the fall" in row.name)
    [alert, _], _ = silences(row, truth)
    at = int(alert.time_utc - truth.time_utc[0])
    by_now = silence_of(alert).by_now
    assert by_now is not None
    assert by_now.altitude_m == pytest.approx(float(truth.altitude_m[at]), rel=0.1)


@pytest.mark.slow
def test_after_landing_it_says_what_such_trackers_do_there(truth: Truth) -> None:
    row = next(row for row in TABLE if "cellular tag is not heard" in row.name)
    [alert], _ = silences(row, truth)
    assert hints_of(alert) == (OnGround.CELLULAR_NEEDS_NETWORK,)
    seeing = replace(LOW_RADIO, needs_sky=True, interval_s=60.0)
    row = replace(row, heard=((seeing, until_falling_through(500.0)),))
    [alert], _ = silences(row, truth)
    assert hints_of(alert) == (OnGround.RADIO_REACHES_LITTLE, OnGround.NEEDS_SKY)


def test_a_source_that_is_down_is_named_first(truth: Truth) -> None:
    row = TABLE[0]
    settings = settings_for(row, truth)
    reports = flown_with(truth, [OnString(tracker=RADIO.id, every_s=20.0, heard=row.heard[0][1])])
    told = fold(reports, settings, estimates=False)
    state = told.flights.state("kanalas-1")
    tick = Tick(now_utc=reports[-1][0] + 200.0, deaf=frozenset({"test"}))
    _, outcomes = step(settings, state, tick)
    [alert] = [one for one in outcomes if isinstance(one, Alert)]
    silence = silence_of(alert)
    assert (silence.cause, silence.source) == (SilenceCause.SOURCE_AWAY, "test")
