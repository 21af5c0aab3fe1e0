"""A person says that it is no flight, and takes that back: invented climbs, told as in life."""

from dataclasses import dataclass, field

from groundstation.flight.alert_records import Alert, CalledOff
from groundstation.flight.events import Observed, Sighted, Withdrawn
from groundstation.flight.flights import Flights, ticks_between
from groundstation.flight.instruct import instruction
from groundstation.flight.sightings import LaunchSeen, NoFlight
from groundstation.records import Act, Phase, PhaseChange
from tests.support.flights import ANY, T0, report

PAYLOAD = "kanalas-1"


@dataclass
class Day:
    """Heights each half minute, and words between them."""

    flights: Flights = field(default_factory=lambda: Flights([ANY]))
    at_s: float = 0.0
    altitude_m: float = 100.0
    number: int = 0
    alerts: list[Alert] = field(default_factory=list)
    changes: list[PhaseChange] = field(default_factory=list)

    def moves(self, minutes: float, rate_ms: float = 0.0, drift_deg: float = 0.0) -> None:
        for _ in range(round(minutes * 2.0)):
            before = self.at_s
            self.at_s += 30.0
            self.altitude_m += 30.0 * rate_ms
            for now in ticks_between(T0 + before, T0 + self.at_s):
                self._keep(self.flights.tick(now))
            self.number += 1
            event = Observed(
                report_id=self.number,
                source="air",
                received_utc=T0 + self.at_s,
                report=report(self.at_s, self.altitude_m, lon=20.3 + drift_deg * self.at_s),
            )
            self._keep(self.flights.observed(event))
            self._keep(self.flights.tick(T0 + self.at_s + 1.0))

    def says(self, kind: type[NoFlight | LaunchSeen] = NoFlight, who: str = "Zsófi") -> int:
        self.number += 1
        now = T0 + self.at_s
        word = kind(number=self.number, at_utc=now, told_utc=now, who=who)
        self._keep(self.flights.sighted(PAYLOAD, Sighted(now_utc=now, sighting=word)))
        return self.number

    def takes_back(self, number: int) -> None:
        event = Withdrawn(now_utc=T0 + self.at_s, number=number)
        self._keep(self.flights.sighted(PAYLOAD, event))

    def _keep(self, outcomes: tuple[object, ...]) -> None:
        self.alerts += [one for one in outcomes if isinstance(one, Alert)]
        self.changes += [one for one in outcomes if isinstance(one, PhaseChange)]

    @property
    def told(self) -> list[str]:
        return [one.kind.value for one in self.alerts]

    @property
    def phase(self) -> Phase:
        return self.flights.state(PAYLOAD).motion.phase


def climbing() -> Day:
    day = Day()
    day.moves(5.0)
    day.moves(6.0, rate_ms=5.0)
    assert day.told == ["launched"]
    return day


def test_a_flight_that_was_none_is_withdrawn_and_not_told_again() -> None:
    day = climbing()
    day.says()
    assert day.told == ["launched", "called-off"]
    assert isinstance(day.alerts[-1].facts, CalledOff)
    assert day.alerts[-1].facts.who == "Zsófi"
    assert day.phase is Phase.PRELAUNCH
    state = day.flights.state(PAYLOAD)
    assert state.landing is None
    assert instruction(ANY, state, T0 + day.at_s).act is Act.GET_READY
    day.moves(5.0, rate_ms=5.0)
    day.moves(5.0, rate_ms=-5.0)
    assert day.told == ["launched", "called-off"]


def test_taken_back_the_flight_goes_on_as_if_nothing_had_been_said() -> None:
    day, other = climbing(), climbing()
    number = day.says()
    day.moves(3.0, rate_ms=5.0)
    day.takes_back(number)
    assert day.told == ["launched", "called-off", "called-off"]
    assert day.phase is Phase.ASCENT
    day.moves(20.0, rate_ms=5.0)
    day.moves(4.0, rate_ms=-12.0)
    other.moves(23.0, rate_ms=5.0)
    other.moves(4.0, rate_ms=-12.0)
    assert day.told.count("launched") == 1
    assert day.told[3:] == other.told[1:]
    assert day.phase is other.phase is Phase.DESCENT
    mine, its = (one.flights.state(PAYLOAD).motion for one in (day, other))
    assert (mine.launch, mine.burst, mine.since_utc) == (its.launch, its.burst, its.since_utc)


def test_after_a_rest_another_climb_is_a_flight() -> None:
    day = climbing()
    day.says()
    day.moves(6.0, rate_ms=-5.0)
    day.moves(10.0)
    day.moves(8.0, rate_ms=5.0)
    assert day.told.count("launched") == 2
    assert day.phase is Phase.ASCENT


def test_what_leaves_no_doubt_flies_whatever_was_said() -> None:
    day = climbing()
    day.says()
    day.moves(9.0, rate_ms=5.0)
    before = day.phase
    day.moves(3.0, rate_ms=5.0)
    assert (before, day.phase) == (Phase.PRELAUNCH, Phase.ASCENT)


def test_a_word_of_the_launch_outdoes_the_word_of_none() -> None:
    day = climbing()
    day.says()
    day.says(LaunchSeen)
    day.moves(6.0, rate_ms=5.0)
    assert day.phase is Phase.ASCENT


def test_said_before_anything_was_told_nobody_is_told() -> None:
    day = Day()
    day.moves(5.0)
    number = day.says()
    day.moves(2.0, rate_ms=5.0)
    day.takes_back(number)
    assert day.told == []
    day.moves(5.0, rate_ms=5.0)
    assert day.told == ["launched"]
