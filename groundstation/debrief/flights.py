"""The flights that a store holds, each with everything that belongs to it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from groundstation.flight.events import Sighted, Withdrawn
from groundstation.flight.heights import beside_no_fix
from groundstation.flight.sighting_kinds import Say, in_english
from groundstation.flight.sightings import AnySighting, NoFlight
from groundstation.language import numbers
from groundstation.physics.geodesy import distance_bearing
from groundstation.records import Fix, Height, Landing, Phase
from groundstation.search.found import Condition, Found
from groundstation.store.reader import Reader, Told

BEFORE_S: Final = 600.0
"""What is heard so shortly before the launch belongs to the flight."""

EVER: Final = 1e12  # a time after all others, in seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class FlightLog:
    """One flight. ``fixes`` are by their own time, those at ``launch`` and before it on the ground.
    All before ``until_utc`` belongs to it. ``burst_utc`` and ``landed_utc`` are None where they
    were not seen. ``seen`` is what people saw, in order of its moments, and whether it was taken
    back; ``heights`` came without a place while no fix told one."""

    number: int
    payload: str
    launch_utc: float
    until_utc: float = EVER
    burst_utc: float | None
    landed_utc: float | None
    fixes: tuple[Fix, ...]
    landings: tuple[Landing, ...]
    messages: tuple[Told, ...]
    found: Found | None
    seen: tuple[tuple[AnySighting, bool], ...] = ()
    heights: tuple[Height, ...] = ()

    @property
    def highest_m(self) -> float | None:
        """With a place or without."""
        known = [fix.altitude_m for fix in self.fixes if fix.altitude_m is not None]
        return max((*known, *(height.altitude_m for height in self.heights)), default=None)

    @property
    def called_off(self) -> bool:
        """Whether a person said that this was no flight, and did not take it back."""
        return any(isinstance(sighting, NoFlight) and not gone for sighting, gone in self.seen)

    @property
    def outcome(self) -> str:
        """In a word or two."""
        return self.outcome_in(in_english)

    def outcome_in(self, _: Say) -> str:
        """That in another language."""
        if self.called_off:
            return _("no flight, as somebody said")
        if self.found is not None:
            match self.found.condition:
                case Condition.WHOLE:
                    return _("found, whole")
                case Condition.DAMAGED:
                    return _("found, damaged")
                case Condition.PARTS:
                    return _("found, parts")
                case Condition.LOST:
                    return _("given up")
        if self.landed_utc is not None:
            return _("heard on the ground")
        if self.burst_utc is None:
            return _("not heard to its end")
        low = next((fix.altitude_m for fix in reversed(self.fixes) if fix.altitude_m), None)
        if low is None:
            return _("fall heard")
        return _("fall heard down to {height} m", height=numbers.number(low))

    @property
    def distance_m(self) -> float:
        """From the launch to where it ended, as far as that is known."""
        first, last = self.fixes[0], self.fixes[-1]
        lat, lon = last.latitude_deg, last.longitude_deg
        if self.found is not None:
            lat, lon = self.found.latitude_deg, self.found.longitude_deg
        return distance_bearing(first.latitude_deg, first.longitude_deg, lat, lon)[0]


def flights(reader: Reader) -> Iterator[FlightLog]:
    """All of them, oldest first, numbered from 1 as long as none is deleted."""
    # One that was called off and goes on after all has begun once.
    begun = sorted(
        {
            (change.since_utc, payload)
            for payload in reader.payloads()
            for change in reader.phases(payload)
            if change.phase is Phase.ASCENT
        }
    )
    for number, (launch, payload) in enumerate(begun, 1):
        following = [at for at, name in begun if name == payload and at > launch]
        until = min(following, default=EVER)
        yield _flight(reader, number, payload, launch, until - BEFORE_S)


def newest(known: Sequence[FlightLog]) -> FlightLog | None:
    """The last flight; one that was called off only where there is no other."""
    flown = [flight for flight in known if not flight.called_off] or known
    return flown[-1] if flown else None


def _flight(reader: Reader, number: int, payload: str, launch: float, until: float) -> FlightLog:
    fixes = tuple(
        fix for _, fix in reader.fixes(payload, launch - BEFORE_S) if fix.time_utc < until
    )
    changes = [phase for phase in reader.phases(payload) if launch <= phase.since_utc < until]
    bursts = [change.since_utc for change in changes if change.phase is Phase.DESCENT]
    landed = [change.since_utc for change in changes if change.phase is Phase.LANDED]
    found = [
        find
        for find in reader.found()
        if find.payload == payload and launch <= find.told_utc < until
    ]
    return FlightLog(
        number=number,
        payload=payload,
        launch_utc=launch,
        until_utc=until,
        burst_utc=bursts[-1] if bursts else None,
        landed_utc=landed[-1] if landed else None,
        fixes=fixes,
        landings=tuple(reader.landings(payload, launch - BEFORE_S, until)),
        messages=reader.messages(payload, launch - BEFORE_S, until),
        found=found[-1] if found else None,
        heights=tuple(
            height
            for height in beside_no_fix(reader.heights(payload, launch - BEFORE_S), fixes)
            if height.time_utc < until
        ),
        seen=tuple(_seen(reader, payload, launch - BEFORE_S, until)),
    )


def _seen(
    reader: Reader, payload: str, since: float, until: float
) -> Iterator[tuple[AnySighting, bool]]:
    events = [word.event for word in reader.told_by_people() if word.payload == payload]
    gone = {event.number for event in events if isinstance(event, Withdrawn)}
    seen = [event.sighting for event in events if isinstance(event, Sighted)]
    for sighting in sorted(seen, key=lambda sighting: sighting.at_utc):
        if since <= sighting.at_utc < until:
            yield sighting, sighting.number in gone
