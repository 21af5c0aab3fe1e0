"""What waited while the clock was set has the times that it would have had."""

from collections.abc import AsyncIterator
from pathlib import Path

import pytest
import pytest_asyncio

from groundstation.alerts.wording import WordingSettings
from groundstation.clock import RehearsalClock
from groundstation.decoders.json_map import JsonDecoder, JsonSettings
from groundstation.flight.events import Observed
from groundstation.flight.flights import Flights
from groundstation.flight.settings import FlightSettings, TrackerSettings
from groundstation.jsonout import iso_utc
from groundstation.records import Frame
from groundstation.station import pipeline
from groundstation.station.core import Core
from groundstation.store.reader import Reader
from groundstation.store.writer import Store

TRUE_UTC = 1_795_783_800.0  # 2026-11-27
BEHIND_S = 7.0 * 365.25 * 86_400.0


class Behind(RehearsalClock):
    """Seven years behind, at the speed of life, and kept by nothing."""

    rehearsal = False

    def __init__(self) -> None:
        super().__init__(TRUE_UTC - BEHIND_S)
        self.set_by_s: list[float] = []

    def is_kept(self) -> bool:
        return False

    def follow(self, by_s: float) -> None:
        self.set_by_s.append(by_s)
        self._from_utc += by_s


@pytest_asyncio.fixture
async def core(tmp_path: Path) -> AsyncIterator[Core]:
    settings = FlightSettings(payload="kanalas-1", trackers=(TrackerSettings(id="*"),))
    async with Store.open(tmp_path / "station.db", ("nobody",)) as store:
        yield Core.of(
            flights=Flights((settings,)),
            decoders={"x": JsonDecoder(JsonSettings())},
            store=store,
            wording=WordingSettings(),
            clock=Behind(),
        )


def packet(n: int) -> Frame:
    """Sent and received at once, by a clock that is seven years behind."""
    sent = TRUE_UTC + n
    place = f'"lat":47.1,"lon":{20.3 + n * 0.01},"alt_m":90'
    data = f'{{"tracker":"Q0HAB-11","time":"{iso_utc(sent)}",{place}}}'
    return Frame(source="x", received_utc=sent - BEHIND_S, data=data.encode())


async def test_packets_that_waited_do_not_set_it_again(
    core: Core, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pipeline, "BATCH_MOST", 1)
    for n in range(8):
        await core.pipeline.put(packet(n))
    for _ in range(8):
        await core.pipeline.work()
    clock = core.pipeline._clock
    assert isinstance(clock, Behind)
    assert clock.set_by_s == pytest.approx([BEHIND_S], abs=1.0)
    with Reader(tmp_path / "station.db") as reader:
        events = [event for _, event in reader.events_after(0) if isinstance(event, Observed)]
    # Those before it was set are stored with the times of then; the database knows by how much.
    times = [event.received_utc - TRUE_UTC for event in events]
    before = [-BEHIND_S + n for n in range(3)]
    assert times == pytest.approx([*before, 3.0, 4.0, 5.0, 6.0, 7.0], abs=1.0)
