"""Whatever trackers send, the flight logic goes on: no exception, and a verdict on each report."""

import math

from hypothesis import given
from hypothesis import strategies as st

from groundstation.flight.settings import BaseSettings, FlightSettings, TrackerSettings
from groundstation.records import Report
from tests.support.flights import T0, fold

FLIGHT = FlightSettings(
    payload="kanalas-1",
    trackers=(TrackerSettings(id="A"), TrackerSettings(id="B", ceiling_m=18_000.0)),
    base=BaseSettings(latitude_deg=47.1, longitude_deg=20.3),
    members=20,
)
numbers = st.floats(allow_nan=True, allow_infinity=True)
wild = st.builds(
    Report,
    tracker=st.sampled_from(["A", "B", "C", ""]),
    latitude_deg=numbers,
    longitude_deg=numbers,
    altitude_m=st.none() | numbers,
    time_utc=st.none() | numbers,
    uncertainty_m=st.floats(0.0, 1e6),
    speed_ms=st.none() | numbers,
    valid=st.booleans(),
)
# Near enough to be believed, so that all that comes after the gate is met as well.
tame = st.builds(
    Report,
    tracker=st.sampled_from(["A", "B"]),
    latitude_deg=st.floats(47.0, 47.02),
    longitude_deg=st.floats(20.0, 20.02),
    altitude_m=st.none() | st.sampled_from([100.0, 18_000.0]) | st.floats(-400.0, 40_000.0),
    time_utc=st.none() | st.floats(T0 - 4_000.0, T0 + 4_000.0),
)
steps = st.sampled_from([0.0, 0.3, 1.0, 30.0, 300.0, 20_000.0])


@given(st.lists(st.tuples(steps, tame | tame | wild), max_size=40))
def test_any_reports_in_any_order(sent: list[tuple[float, Report]]) -> None:
    now = T0
    timed = []
    for step, report in sent:
        now += step
        timed.append((now, report))
    told = fold(timed, FLIGHT)
    assert told.fate.keys() == set(range(len(sent)))
    for verdict in told.fate.values():
        assert (verdict.fix is None) == (verdict.reason is not None)
    assert len({alert.key for alert in told.alerts}) == len(told.alerts)
    for landing in told.landings:
        assert math.isfinite(landing.latitude_deg)
        assert math.isfinite(landing.eta_utc)
