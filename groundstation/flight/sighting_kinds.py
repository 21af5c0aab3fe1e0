"""Sightings as people tell them: by the name of their kind and named figures, and in words."""

import math
from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields, replace
from enum import StrEnum
from typing import Any, Final

from groundstation.flight.sightings import (
    AnySighting,
    BurstSeen,
    CameDown,
    InTheSky,
    LaunchSeen,
    NoFlight,
    NothingHere,
    NotInTheSky,
    RadioBearing,
    Sighting,
)


class SightingKind(StrEnum):
    """SEEN is in the sky, in a direction. RADIO is the direction from which its signal comes."""

    LAUNCHED = "launched"
    BURST = "burst"
    SEEN = "seen"
    NOT_SEEN = "not-seen"
    CAME_DOWN = "came-down"
    RADIO = "radio"
    NOTHING_HERE = "nothing-here"
    NO_FLIGHT = "no-flight"


RECORDS: Final[Mapping[SightingKind, type[AnySighting]]] = {
    SightingKind.LAUNCHED: LaunchSeen,
    SightingKind.BURST: BurstSeen,
    SightingKind.SEEN: InTheSky,
    SightingKind.NOT_SEEN: NotInTheSky,
    SightingKind.CAME_DOWN: CameDown,
    SightingKind.RADIO: RadioBearing,
    SightingKind.NOTHING_HERE: NothingHere,
    SightingKind.NO_FLIGHT: NoFlight,
}
RANGES: Final[Mapping[str, tuple[float, float]]] = {
    "latitude_deg": (-90.0, 90.0),
    "longitude_deg": (-180.0, 180.0),
    "from_altitude_m": (-500.0, 9_000.0),
    "bearing_deg": (0.0, 360.0),
    "bearing_sd_deg": (0.5, 90.0),
    "elevation_deg": (-10.0, 90.0),
    "elevation_sd_deg": (0.5, 45.0),
    "within_deg": (1.0, 180.0),
    "within_m": (10.0, 50_000.0),
    "reach_m": (5.0, 50_000.0),
    "chance": (0.01, 0.99),
    "sd_s": (1.0, 7_200.0),
}
"""What a person can mean by each figure (own choices; beyond them it is a slip of the finger)."""
OLDEST_S: Final = 2 * 86_400.0  # own choice: see AHEAD_S
AHEAD_S: Final = 120.0
"""A moment that is told may be that old, and by a phone's clock so far ahead (own choices)."""
_COMMON: Final = frozenset(field.name for field in fields(Sighting))


def kind_of(sighting: AnySighting) -> SightingKind:
    return next(kind for kind, record in RECORDS.items() if type(sighting) is record)


def figures(kind: SightingKind) -> tuple[tuple[str, bool], ...]:
    """The figures that a kind has beside its moment: their names, and whether each is needed."""
    return tuple(
        (field.name, field.default is MISSING)
        for field in fields(RECORDS[kind])
        if field.name not in _COMMON
    )


def facts_of(sighting: AnySighting) -> dict[str, float | None]:
    """The figures of a sighting by name, in degrees, metres and seconds."""
    return {name: getattr(sighting, name) for name, _ in figures(kind_of(sighting))}


def sighting_of(
    kind: SightingKind,
    facts: Mapping[str, float | None],
    *,
    at_utc: float,
    told_utc: float,
    number: int = 0,
    who: str = "",
    note: str = "",
) -> AnySighting:
    """The record. Figures of no meaning for its kind are left; the usual ones take the place of
    those not given. Raises ``ValueError`` with a sentence."""
    if not told_utc - OLDEST_S <= at_utc <= told_utc + AHEAD_S:
        raise ValueError("the moment must be one of the last two days")
    given: dict[str, Any] = {}
    for name, needed in figures(kind):
        value = facts.get(name)
        if value is None:
            if needed:
                raise ValueError(f"{name} must be given for {kind.value}")
            continue
        low, high = RANGES[name]
        if not (math.isfinite(value) and low <= value <= high):
            raise ValueError(f"{name} must be {low:g} to {high:g}")
        given[name] = value
    made = RECORDS[kind](number=number, at_utc=at_utc, told_utc=told_utc, **given)
    return replace(made, who=who, note=note)


Say = Callable[..., str]
"""Gives a text with what is put into its braces, in some language."""


def in_english(text: str, **given: object) -> str:
    """As it stands in the code."""
    return text.format(**given)


def in_words(sighting: AnySighting, _: Say = in_english) -> str:
    """What it says, without its moment and place; ``_`` gives it in the language of whoever reads
    it."""
    match sighting:
        case LaunchSeen():
            return _("launched")
        case BurstSeen():
            return _("burst seen or heard")
        case InTheSky(elevation_deg=None):
            return _("seen in the sky towards {bearing}°", bearing=round(sighting.bearing_deg))
        case InTheSky():
            assert sighting.elevation_deg is not None
            return _(
                "seen in the sky towards {bearing}°, {up}° up",
                bearing=round(sighting.bearing_deg),
                up=round(sighting.elevation_deg),
            )
        case NotInTheSky():
            return _(
                "looked for towards {bearing}° and not seen", bearing=round(sighting.bearing_deg)
            )
        case CameDown():
            return _("seen or heard coming down near here")
        case RadioBearing():
            return _(
                "its signal comes from {bearing}° (± {error}°)",
                bearing=round(sighting.bearing_deg),
                error=round(sighting.bearing_sd_deg),
            )
        case NothingHere():
            return _("looked here and found nothing")
        case NoFlight():
            return _("it is no flight")
