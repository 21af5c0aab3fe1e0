"""A source that floods: its noise is bounded, what can be read is not."""

from pathlib import Path

import pytest

from groundstation.alerts.wording import WordingSettings
from groundstation.clock import RehearsalClock
from groundstation.decoders.json_map import JsonDecoder, JsonSettings
from groundstation.flight.flights import Flights
from groundstation.flight.settings import FlightSettings, TrackerSettings
from groundstation.records import Frame
from groundstation.station import flood
from groundstation.station.core import Core
from groundstation.store.reader import Reader
from groundstation.store.writer import Store

NOISE = b"noise " * 200
T0 = 1_780_000_000.0


def test_it_fills_up_again_in_time() -> None:
    bound = flood.Flood()
    kept = sum(bound.may_keep("line", 800, T0) for _ in range(5_000))
    assert kept == int(flood.BURST_BYTES // (800 + flood.ROW_BYTES))
    assert bound.left_out == {"line": 5_000 - kept}
    later = sum(bound.may_keep("line", 800, T0 + 60.0) for _ in range(5_000))
    assert later == int(60.0 * flood.STEADY_BYTES_S // (800 + flood.ROW_BYTES))
    assert bound.may_keep("another", 800, T0)
    # A clock that steps back gives nothing, and takes nothing.
    assert not bound.may_keep("line", 800, T0 - 1e6)


async def test_positions_in_the_middle_of_noise_are_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(flood, "BURST_BYTES", 20_000.0)
    monkeypatch.setattr(flood, "STEADY_BYTES_S", 1_000.0)
    path = tmp_path / "station.db"
    acknowledged = 0

    def stored() -> None:
        nonlocal acknowledged
        acknowledged += 1

    async with Store.open(path) as store:
        tracker = TrackerSettings(id="Q0HAB-11")
        core = Core.of(
            flights=Flights((FlightSettings(payload="kanalas-1", trackers=(tracker,)),)),
            decoders={"line": JsonDecoder(JsonSettings())},
            store=store,
            wording=WordingSettings(),
            clock=RehearsalClock(T0),
        )
        for number in range(100):
            told = b'{"tracker": "Q0HAB-11", "lat": 47.1, "lon": 20.3, "alt_m": %d}' % number
            for data in (NOISE, told):
                at = T0 + 0.1 * number
                await core.pipeline.put(Frame(source="line", received_utc=at, data=data), stored)
            await core.pipeline.work()
    assert acknowledged == 200
    with Reader(path) as reader:
        frames = [frame.data for _, frame in reader.frames()]
    assert sum(data != NOISE for data in frames) == 100
    assert 10 < frames.count(NOISE) < 40
    assert core.pipeline.flood.left_out["line"] == 100 - frames.count(NOISE)
