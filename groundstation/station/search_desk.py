"""The search desk: the grid of each payload that is down, what was done, and what was found."""

import asyncio
from dataclasses import replace

from groundstation.clock import Clock
from groundstation.flight.estimate import Scatter, landing_points
from groundstation.flight.flights import Flights
from groundstation.flight.sightings import Looked, NothingHere, looked
from groundstation.flight.state import FlightState
from groundstation.records import Landing
from groundstation.search.found import Found
from groundstation.search.grid import Grid, NextPlace, grid_of, next_places
from groundstation.search.looks import REACH_M, Look, LookKind
from groundstation.search.search_view import SearchView
from groundstation.store.reader import Reader
from groundstation.store.writer import Store


class Search:
    """Holds what counts in memory; every change is on the disk before it is answered."""

    def __init__(self, flights: Flights, store: Store, clock: Clock) -> None:
        self._flights = flights
        self._store = store
        self._clock = clock
        self._looks: list[Look] = []
        self._found: list[Found] = []
        self._scatters: dict[str, tuple[Landing | None, Scatter | None]] = {}

    def restore(self, reader: Reader) -> None:
        self._looks = list(reader.looks())
        self._found = list(reader.found())
        for payload in self._flights.payloads:
            self._weigh(payload)

    def found(self, payload: str) -> Found | None:
        """What became of this payload's newest flight, if that is known."""
        if payload not in self._flights.payloads:
            return None
        begun = _begun(self._flights.state(payload))
        mine = [find for find in self._found if find.payload == payload and find.told_utc >= begun]
        return mine[-1] if mine else None

    async def view(self, payload: str) -> SearchView | None:
        """None for a payload that there is not."""
        if payload not in self._flights.payloads:
            return None
        state = self._flights.state(payload)
        looks = self._looks_of(payload)
        scatter = await self._scatter(payload, state)
        grid: Grid | None = None
        places: tuple[NextPlace, ...] = ()
        if scatter is not None:
            empty = [seen for seen in state.sightings if isinstance(seen, NothingHere)]
            at_point = [_look(payload, sighting) for sighting in empty]
            grid, places = await asyncio.to_thread(_reckoned, scatter, (*looks, *at_point))
        return SearchView(
            payload=payload, grid=grid, looks=looks, next=places, found=self.found(payload)
        )

    async def add(self, look: Look) -> Look | None:
        """Keep a look, as of now; None for a payload that there is not."""
        if look.payload not in self._flights.payloads:
            return None
        look = replace(look, time_utc=self._clock.now_utc())
        look = replace(look, number=await self._store.add_look(look))
        self._looks.append(look)
        self._weigh(look.payload)
        return look

    async def take_back(self, number: int) -> bool:
        known = await self._store.take_back_look(number)
        self._looks = [look for look in self._looks if look.number != number]
        for payload in self._flights.payloads:
            self._weigh(payload)
        return known

    async def close(self, found: Found) -> bool:
        """Note what became of a payload; False for one that there is not."""
        if found.payload not in self._flights.payloads:
            return False
        found = replace(found, told_utc=self._clock.now_utc())
        await self._store.add_found(found)
        self._found.append(found)
        return True

    def _looks_of(self, payload: str) -> tuple[Look, ...]:
        """Those of the newest flight."""
        begun = _begun(self._flights.state(payload))
        return tuple(
            look for look in self._looks if look.payload == payload and look.time_utc >= begun
        )

    def _weigh(self, payload: str) -> None:
        """Have the landing estimate weigh the looks that count."""
        looks = [_looked(look) for look in self._looks_of(payload)]
        self._flights.put_looks(payload, looks, self._clock.now_utc())

    async def _scatter(self, payload: str, state: FlightState) -> Scatter | None:
        """Made anew when there is a new estimate. Without the looks, which the grid takes itself,
        finer than an ensemble can."""
        made = self._scatters.get(payload)
        if made is None or made[0] is not state.landing:
            settings = self._flights.settings(payload)
            others = (seen for seen in state.sightings if not isinstance(seen, NothingHere))
            without = replace(state, looks=(), sightings=tuple(others))
            scatter = await asyncio.to_thread(landing_points, settings, without)
            made = self._scatters[payload] = (state.landing, scatter)
        return made[1]


def _looked(look: Look) -> Looked:
    """As the landing estimate weighs it."""
    return Looked(
        number=look.number,
        at_utc=look.time_utc,
        told_utc=look.time_utc,
        who=look.who,
        note=look.note,
        shape=look.shape,
        area=look.area,
        reach_m=look.reach_m,
        chance=look.chance,
        listened=look.kind is not LookKind.SEARCHED,
        heard=look.kind is LookKind.HEARD,
    )


def _look(payload: str, sighting: NothingHere) -> Look:
    """As the grid of the search takes it."""
    look = looked(sighting)
    return Look(
        payload=payload,
        time_utc=look.at_utc,
        kind=LookKind.SEARCHED,
        shape=look.shape,
        reach_m=look.reach_m,
        chance=look.chance,
        who=look.who,
        note=look.note,
        number=look.number,
    )


def _begun(state: FlightState) -> float:
    first = state.motion.launch or state.motion.first
    return float("-inf") if first is None else first.received_utc


def _reckoned(scatter: Scatter, looks: tuple[Look, ...]) -> tuple[Grid, tuple[NextPlace, ...]]:
    grid = grid_of(scatter.plane, scatter.x_m, scatter.y_m, looks).after(looks)
    # As far as one hears well, but not beyond what is worth telling apart.
    return grid, next_places(grid, min(REACH_M[LookKind.SILENT] / 2.0, 3.0 * grid.size_m))
