"""A measured figure beside what it should be."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """``good`` tells whether the measured value meets the goal, which is put in words."""

    name: str
    measured: str
    goal: str
    good: bool
