"""What flights taught, kept in a file of the person's own, apart from any database.

One ``[[lesson]]`` a flight: what it did, what that says of its gear, and on what it rests. The
debrief command writes it, the plan command narrows the next plan by it, and a person may read,
change and share it.
"""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from pathlib import Path
from typing import Final

from groundstation.errors import ConfigurationError
from groundstation.planning.past_flights import PastFlight
from groundstation.planning.settings import FlightFile
from groundstation.settings.builder import read_settings

SAME_MASS: Final = 0.15
"""Payloads that differ by more than this share are not taken as flown alike: judgement."""

HEAD: Final = (
    '# What flights taught: "groundstation debrief --lessons" writes it, and "groundstation plan'
    ' --past"\n# takes it. Rates in m/s (the fall reduced to sea level), heights in m, masses in'
    " kg.\n# Comments are not kept when it is written again: put yours into evidence.\n"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lesson:
    """``flown`` is the launch, such as 2026-05-16T08:30:00Z. Of the gear is known only what a
    flight file gave: ``drag_coefficient`` is the parachute's, ``burst_diameter_m`` how wide the
    balloon was at the burst, ``balloon_drag_coefficient`` that of the ascent.
    ``heard_as_far_as_m`` is from base, or from the launch where no base was known."""

    payload: str
    flown: str
    ascent_rate_ms: float
    burst_altitude_m: float
    fall_rate_ms: float
    payload_kg: float | None = None
    drag_coefficient: float | None = None
    burst_diameter_m: float | None = None
    balloon_drag_coefficient: float | None = None
    interval_s: float | None = None
    heard_as_far_as_m: float | None = None
    evidence: str = ""

    def __post_init__(self) -> None:
        for name in ("ascent_rate_ms", "burst_altitude_m", "fall_rate_ms"):
            if not getattr(self, name) > 0.0:
                raise ConfigurationError(f"{name} of the lesson of {self.flown} must be above 0")
        try:
            datetime.fromisoformat(self.flown)
        except ValueError as error:
            raise ConfigurationError(
                f"flown {self.flown!r} is not a time such as 2026-05-16T08:30:00Z"
            ) from error

    @property
    def flight(self) -> PastFlight:
        return PastFlight(
            begun_utc=datetime.fromisoformat(self.flown).timestamp(),
            ascent_rate_ms=self.ascent_rate_ms,
            burst_altitude_m=self.burst_altitude_m,
            descent_rate_ms=self.fall_rate_ms,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Lessons:
    """A whole file."""

    lesson: tuple[Lesson, ...] = ()


def read_lessons(path: Path) -> tuple[Lesson, ...]:
    """Raises ``ConfigurationError`` with all that is wrong, one a line."""
    return read_settings(path, Lessons, "the lessons").lesson


def like(lessons: Iterable[Lesson], payload: str, payload_kg: float) -> list[Lesson]:
    """Those of this payload at about this mass."""
    return [
        lesson for lesson in lessons
        if lesson.payload == payload
        and (lesson.payload_kg is None or abs(lesson.payload_kg / payload_kg - 1.0) <= SAME_MASS)
    ]  # fmt: skip


def past_of(flight: FlightFile) -> tuple[PastFlight, ...]:
    """What the lessons that a flight file names tell about it; nothing where that file is not there
    yet. Raises ``ConfigurationError``."""
    if flight.lessons is None or not flight.lessons.exists():
        return ()
    mine = like(read_lessons(flight.lessons), flight.name, flight.payload_kg)
    return tuple(lesson.flight for lesson in mine)


def with_lesson(lessons: Sequence[Lesson], new: Lesson) -> tuple[Lesson, ...]:
    """By time; one of the same flight is replaced."""
    others = [
        lesson for lesson in lessons if (lesson.payload, lesson.flown) != (new.payload, new.flown)
    ]
    return tuple(sorted((*others, new), key=lambda lesson: lesson.flown))


def lessons_text(lessons: Iterable[Lesson], head: str = HEAD) -> str:
    """The file."""
    parts = [head]
    for lesson in lessons:
        parts.append("\n[[lesson]]\n")
        for field in fields(lesson):
            value = getattr(lesson, field.name)
            if value is None or value == "":
                continue
            # A TOML basic string escapes as JSON does (TOML 1.0.0, String).
            parts.append(f"{field.name} = {json.dumps(value, ensure_ascii=False)}\n")
    return "".join(parts)
