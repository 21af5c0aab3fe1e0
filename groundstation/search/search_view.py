"""What the search is asked for, and by whom it is answered."""

from dataclasses import dataclass
from typing import Protocol

from groundstation.search.found import Found
from groundstation.search.grid import Grid, NextPlace
from groundstation.search.looks import Look


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchView:
    """How the search for a payload stands. ``grid`` is None before there is an estimate."""

    payload: str
    grid: Grid | None
    looks: tuple[Look, ...] = ()
    next: tuple[NextPlace, ...] = ()
    found: Found | None = None


class SearchDesk(Protocol):
    """Answers None or False for a payload, or a look, that there is not."""

    async def view(self, payload: str) -> SearchView | None: ...

    async def add(self, look: Look) -> Look | None: ...

    async def take_back(self, number: int) -> bool: ...

    async def close(self, found: Found) -> bool: ...
