"""The current instruction through whole flights: it agrees with badge, phase and alerts."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from groundstation.alerts.wording import WordingSettings, instruction_text
from groundstation.flight import whole
from groundstation.flight.alert_records import Alert
from groundstation.flight.events import Observed, heard_at
from groundstation.flight.flights import Flights, ticks_between
from groundstation.flight.settings import FlightSettings, TrackerSettings
from groundstation.flight.state import FlightState
from groundstation.recordings.read_any import read_recording
from groundstation.recordings.recording import Recording
from groundstation.records import Act, Fix, Phase, Place, Report, Standing
from groundstation.search.found import Condition, Found
from groundstation.station.guidance import PLACE, guidance
from groundstation.web.instruction_snapshot import InstructionSnapshot

REPLAY = Path(__file__).resolve().parents[2] / "replay"
SETTINGS = FlightSettings(
    payload="any", trackers=(TrackerSettings(id="*"),), members=100, estimate_every_s=30.0
)
# Without a height, only the plan tells a slow wind from a road.
PLANNED = replace(
    SETTINGS,
    launch_site=Place(latitude_deg=47.10, longitude_deg=20.30),
    launch_utc=datetime(2026, 5, 16, 8, 30, tzinfo=UTC).timestamp(),
)
WORDING = WordingSettings()
AFTER_S = 3 * 3_600.0

ACTS = {
    Standing.WAITING: {Act.LISTEN, Act.GET_READY},
    Standing.RISING: {Act.FOLLOW, Act.CHECK},
    Standing.FLOATING: {Act.WAIT, Act.CHECK},
    Standing.FALLING: {Act.HEAD, Act.GO_ON, Act.STOP},
    Standing.DUE: {Act.STOP, Act.SEARCH},
    Standing.DOWN: {Act.FETCH},
}
PHASES = {
    Standing.WAITING: {Phase.PRELAUNCH},
    Standing.RISING: {Phase.ASCENT},
    Standing.FLOATING: {Phase.FLOAT},
    Standing.FALLING: {Phase.DESCENT},
    Standing.DUE: {Phase.ASCENT, Phase.DESCENT},
    Standing.DOWN: {Phase.DESCENT, Phase.LANDED},
}


@dataclass(frozen=True)
class Moment:
    now_utc: float
    state: FlightState
    told: InstructionSnapshot
    alerts: tuple[Alert, ...]


def moments(recording: Recording, settings: FlightSettings = SETTINGS) -> Iterator[Moment]:
    """After each packet and each minute without one, and for three hours after the last."""
    flights = Flights([settings])

    def seen(now_utc: float, outcomes: list[object]) -> Moment:
        state = flights.state("any")
        return Moment(
            now_utc,
            state,
            guidance(settings, state, now_utc, WORDING),
            tuple(one for one in outcomes if isinstance(one, Alert)),
        )

    clock: float | None = None
    yield seen(recording.frames[0].received_utc - 60.0, [])
    for number, frame in enumerate(recording.frames):
        if clock is not None:
            yield from _waiting(flights, seen, clock, frame.received_utc)
        clock = frame.received_utc
        outcomes: list[object] = []
        for read in recording.decode(frame):
            if isinstance(read, Report):
                at = heard_at(clock, read, frame.sent_utc, retained=frame.retained)
                event = Observed(
                    report_id=number, source=frame.source, received_utc=at, report=read
                )
                outcomes += flights.observed(event)
        for payload in flights.due():
            landing = flights.estimate(payload)
            outcomes += () if landing is None else flights.estimated(landing)
        yield seen(clock, outcomes)
    assert clock is not None
    yield from _waiting(flights, seen, clock, clock + AFTER_S)


def _waiting(flights: Flights, seen, since_utc: float, until_utc: float) -> Iterator[Moment]:  # type: ignore[no-untyped-def]
    shown = since_utc
    for now in ticks_between(since_utc, until_utc):
        outcomes: list[object] = [*flights.tick(now)]
        for payload in flights.due_by_time():
            landing = flights.estimate(payload)
            outcomes += () if landing is None else flights.estimated(landing)
        if now - shown >= 60.0 or outcomes:
            shown = now
            yield seen(now, outcomes)


def without_heights(recording: Recording) -> Recording:
    """As a messenger would have told it: places each five minutes, no heights."""
    lines = [(f, r) for f in recording.frames for r in recording.decode(f)]
    kept, last = [], float("-inf")
    for frame, read in lines:
        if isinstance(read, Report) and frame.received_utc - last >= 300.0:
            kept.append(frame)
            last = frame.received_utc
    decode = recording.decode

    class Flat:
        frames = tuple(kept)

        @staticmethod
        def decode(frame):  # type: ignore[no-untyped-def]
            reads = decode(frame)
            return tuple(replace(one, altitude_m=None) for one in reads if isinstance(one, Report))

    return Flat()  # type: ignore[return-value]


def held(recording: Recording, settings: FlightSettings = SETTINGS) -> set[tuple[Standing, bool]]:
    """Hold every moment against the rules; returns what was met."""
    met = set()
    for one in moments(recording, settings):
        told, state = one.told, one.state
        met.add((told.standing, told.silent))
        assert told.silent == told.badge.endswith(", silent")
        assert told.act in ACTS[told.standing], one
        assert state.motion.phase in PHASES[told.standing], one
        assert "{" not in told.todo.replace(PLACE, "")
        assert (PLACE in told.todo) == (told.where != "") == (told.latitude_deg is not None)
        assert told.happened.endswith(".")
        heard = state.hearing.silent_since is None
        aloft = told.standing in (Standing.RISING, Standing.FLOATING, Standing.FALLING)
        assert told.silent == (aloft and not heard)
        if state.landing is not None and state.motion.phase is Phase.DESCENT and aloft:
            flight_now = _flight_now(state.motion.last, one.now_utc)
            by_chance = state.landing.progress and state.landing.progress.burst_90_utc
            assert by_chance or flight_now <= state.landing.eta_90_utc[1], "falls after touchdown"
        if one.alerts:
            newest = one.alerts[-1]
            assert newest.instruction is not None
            worded = instruction_text(newest.instruction, newest.time_utc, WORDING)
            assert worded == told.todo.replace(PLACE, told.where)
            assert newest.instruction.standing is told.standing
    return met


def _flight_now(last: Fix | None, now_utc: float) -> float:
    assert last is not None
    return now_utc - last.received_utc + last.time_utc


S = Standing


@pytest.mark.parametrize(
    ("name", "meets"),
    [
        (
            "hard.txt",
            {(S.FLOATING, False), (S.FALLING, True), (S.DUE, False), (S.DOWN, False)},
        ),
        pytest.param(
            "normal.csv",
            {(S.WAITING, False), (S.RISING, False), (S.FALLING, False), (S.DOWN, False)},
            marks=pytest.mark.slow,
        ),
    ],
)
def test_it_agrees_with_badge_phase_and_alerts_on_an_invented_flight(
    name: str, meets: set[tuple[Standing, bool]]
) -> None:
    assert meets <= held(read_recording(REPLAY / name))


@pytest.mark.slow
def test_it_agrees_where_no_height_is_sent(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(whole, "MEMBERS", 2 * SETTINGS.members)  # words need no fine regions
    met = held(without_heights(read_recording(REPLAY / "normal.csv")), PLANNED)
    assert (S.RISING, False) in met
    assert (S.FALLING, False) in met


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "meets"),
    [
        ("f03", {(S.DUE, False), (S.FALLING, False)}),
        ("f08", {(S.FLOATING, False)}),
        ("f13", {(S.DUE, False), (S.DOWN, False)}),
    ],
)
def test_it_agrees_on_a_recorded_flight(
    name: str, meets: set[tuple[Standing, bool]], shared: Path
) -> None:
    path = shared / "flights" / "packets" / f"{name}.txt"
    assert meets <= held(read_recording(path))


@pytest.mark.parametrize(
    ("condition", "badge", "todo"),
    [
        (Condition.WHOLE, "Found", "It is found. Nothing more to do here."),
        (Condition.LOST, "Given up", "The search was given up. Nothing more to do here."),
    ],
)
def test_once_it_is_found_or_given_up_there_is_nothing_to_do(
    condition: Condition, badge: str, todo: str
) -> None:
    state = FlightState(payload="any")
    found = Found(
        payload="any", time_utc=60.0, told_utc=60.0, latitude_deg=47.0, longitude_deg=20.0,
        condition=condition, who="Zsófi",
    )  # fmt: skip
    told = guidance(SETTINGS, state, 120.0, WORDING, found=found)
    assert (told.badge, told.todo) == (badge, todo)
    assert told.happened == f"{badge} at 00:01 by Zsófi."
