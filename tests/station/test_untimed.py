"""A time that can't be read, a mail that waited and a message that a broker kept are not new."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from groundstation.alerts.wording import WordingSettings
from groundstation.clock import RehearsalClock
from groundstation.decoders.aprs.decode import AprsDecoder
from groundstation.decoders.aprs.settings import AprsSettings
from groundstation.decoders.json_map import JsonDecoder, JsonSettings
from groundstation.flight.flights import Flights
from groundstation.flight.settings import FlightSettings, TrackerSettings
from groundstation.records import Frame
from groundstation.station.core import Core
from groundstation.station.problems import of_heights, of_untimed
from groundstation.store.reader import Reader
from groundstation.store.writer import Store

T0 = 1_780_000_000.0
ONE = FlightSettings(payload="kanalas-1", trackers=(TrackerSettings(id="Q0HAB-11"),))


@asynccontextmanager
async def station(path: Path) -> AsyncIterator[Core]:
    async with Store.open(path) as store:
        yield Core.of(
            flights=Flights((ONE,)),
            decoders={"hook": JsonDecoder(JsonSettings(tracker="Q0HAB-11"))},
            store=store,
            wording=WordingSettings(),
            clock=RehearsalClock(T0),
        )


async def take(core: Core, frame: Frame) -> None:
    await core.pipeline.put(frame)
    await core.pipeline.work()


def frame(data: bytes, **more: object) -> Frame:
    return Frame(source="hook", received_utc=T0, data=data, **more)  # type: ignore[arg-type]


GOOD = b'{"time": "2026-05-28T20:25:00Z", "lat": 47.1, "lon": 20.3, "alt_m": 900}'
ODD = b'{"time": "28.05.26 20:26", "lat": 47.2, "lon": 20.4, "alt_m": 950}'


async def test_feet_that_are_taken_for_metres_are_told(tmp_path: Path) -> None:
    """30 km are 98,425 ft; one such height alone is a damaged packet."""
    async with station(tmp_path / "station.db") as core:
        for second, height in enumerate((900, 98_425, 98_410, 98_390)):
            assert not core.pipeline.high_heights.sources
            data = GOOD.replace(b"25:00", b"25:%02d" % second).replace(b"900", b"%d" % height)
            await take(core, frame(data))
        (problem,) = of_heights(core.pipeline.high_heights.sources)
        assert "at 98,390 m" in problem.text
        assert "set alt_m to ft in units" in problem.text
        await take(core, frame(GOOD.replace(b"25:00", b"25:30")))
        assert not core.pipeline.high_heights.sources


async def test_the_flight_goes_on_without_a_fix_of_unknown_time(tmp_path: Path) -> None:
    path = tmp_path / "station.db"
    async with station(path) as core:
        await take(core, frame(GOOD))
        await take(core, frame(ODD))
        last = core.flights.state("kanalas-1").motion.last
        assert last is not None
        assert last.latitude_deg == 47.1
        (problem,) = of_untimed(core.pipeline.untimed.sources)
        assert "'28.05.26 20:26'" in problem.text
        assert "47.20000, 20.40000" in problem.text
        assert "time_format" in problem.text
        await take(core, frame(GOOD.replace(b"25:00", b"27:00")))
        assert not list(of_untimed(core.pipeline.untimed.sources))
    with Reader(path) as reader:
        events = [event for _, event in reader.events_since()]
        assert [event.report.time_unread for event in events] == ["", "28.05.26 20:26", ""]  # type: ignore[union-attr]
        assert [fix.latitude_deg for _, fix in reader.fixes("kanalas-1")] == [47.1, 47.1]
        kept = reader._connection.execute("SELECT time_unknown FROM fix ORDER BY report_id")
        assert [row[0] for row in kept] == [0, 1, 0]


async def test_a_mail_that_waited_is_as_old_as_its_head_says(tmp_path: Path) -> None:
    path = tmp_path / "station.db"
    async with station(path) as core:
        await take(core, frame(b'{"lat": 47.1, "lon": 20.3}', sent_utc=T0 - 7200.0))
        last = core.flights.state("kanalas-1").motion.last
        assert last is not None
        assert (last.time_utc, last.received_utc) == (T0 - 7200.0, T0 - 7200.0)
    with Reader(path) as reader:
        ((_, event),) = reader.events_since()
        assert event.received_utc == T0 - 7200.0  # type: ignore[union-attr]
        ((_, kept),) = reader.frames()
        assert kept.sent_utc == T0 - 7200.0


async def test_a_retained_message_was_not_heard_just_now(tmp_path: Path) -> None:
    path = tmp_path / "station.db"
    async with station(path) as core:
        await take(core, frame(GOOD, retained=True))
        last = core.flights.state("kanalas-1").motion.last
        assert last is not None
        assert last.received_utc == last.time_utc < T0
        await take(core, frame(b'{"lat": 47.2, "lon": 20.4}', retained=True))
        assert core.flights.state("kanalas-1").motion.last == last
    with Reader(path) as reader:
        assert [kept.retained for _, kept in reader.frames()] == [True, True]
        untimed = list(reader.events_since())[1][1]
        assert "kept by the broker" in untimed.report.time_unread  # type: ignore[union-attr]


async def test_names_of_telemetry_hold_after_a_restart(tmp_path: Path) -> None:
    path = tmp_path / "station.db"

    def begun(store: Store) -> Core:
        return Core.of(
            flights=Flights((ONE,)),
            decoders={"hook": AprsDecoder(AprsSettings())},
            store=store,
            wording=WordingSettings(),
            clock=RehearsalClock(T0),
        )

    async with Store.open(path) as store:
        core = begun(store)
        for text in (b":Q0HAB-11 :PARM.Battery", b":Q0HAB-11 :UNIT.V"):
            await take(core, frame(b"Q0HAB-11>APZ001:" + text))
    async with Store.open(path) as store:
        core = begun(store)
        with Reader(path) as reader:
            await core.restoring.restore(reader)
        await take(core, frame(b"Q0HAB-11>APZ001:!4706.00N/02018.00EO/A=002000|!!!%|"))
        last = core.flights.state("kanalas-1").motion.last
        assert last is not None
        assert dict(last.telemetry) == {"battery_v": 4.0}
