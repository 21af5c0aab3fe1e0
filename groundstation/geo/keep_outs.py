"""Where it must not come down, from GeoJSON: areas, and lines and points with a width.

A town is an area; a railway or a school is often given as a line or a point, which no landing ever
hits. So those get a width: ``WIDTH_M``, or what the feature's property ``width_m`` says. What can't
be read is counted and told, never dropped without a word.
"""

import math
from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from groundstation.decoders.geojson import Feature
from groundstation.errors import ConfigurationError
from groundstation.geo.shapes import Form, read_features, shapes
from groundstation.language.catalogue import N_, SOURCE, _, ngettext, speaking
from groundstation.language.numbers import number
from groundstation.physics.geodesy import Plane
from groundstation.physics.region import inside, within

Array = NDArray[np.float64]

WIDTH_M: Final = 200.0
"""Across, of a line or a point without a width: own choice, a hundred metres to each side of a road
or around a house, about as fine as a thousand members can tell."""

WIDEST_M: Final = 20_000.0  # own choice: wider is not beside a line


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptOut:
    """One of them; ``name`` is of the catalogues where it has none of its own. ``parts`` are of
    shape (n, 2): longitude, latitude; closed rings with their holes (even-odd rule) where
    ``half_width_m`` is 0, else lines or points with that much on each side."""

    name: str
    parts: tuple[Array, ...]
    half_width_m: float = 0.0

    def holds(self, plane: Plane, x_m: Array, y_m: Array) -> NDArray[np.bool_]:
        """Which of the points, in metres east and north in ``plane``, lie in it."""
        lines = [plane.to_xy(part[:, 1], part[:, 0]) for part in self.parts]
        if self.half_width_m > 0.0:
            return within(x_m, y_m, lines, self.half_width_m)
        return inside(x_m, y_m, lines)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOuts:
    """A whole file: what it holds, and what was made of it. ``widths_m`` are those that lines and
    points got, ``ignored`` says in English why a feature was, and of how many."""

    kept: tuple[KeptOut, ...]
    counted: Mapping[str, int]
    widths_m: Mapping[str, Collection[float]]
    ignored: Mapping[str, int]

    @property
    def summary(self) -> str:
        """That in English."""
        with speaking(SOURCE):
            return self.words

    @property
    def words(self) -> str:
        """That in the language that is spoken."""
        parts = [ngettext("{count} area read", "{count} areas read", self.counted["area"])]
        for form, counted in (("line", _lines), ("point", _points)):
            if self.counted[form]:
                parts.append(counted(self.counted[form], _metres(self.widths_m[form])))
        if self.ignored:
            reasons = [(_(why), count) for why, count in self.ignored.items()]
            why = "; ".join(f"{why} ({count})" if count > 1 else why for why, count in reasons)
            parts.append(
                ngettext(
                    "{count} feature ignored: {why}", "{count} features ignored: {why}",
                    sum(self.ignored.values()), why=why,
                )
            )  # fmt: skip
        return _("keep-outs: {what}", what=", ".join(parts))


def read_keep_outs(path: Path) -> KeepOuts:
    """Raises ``ConfigurationError`` for a file that is no GeoJSON, or holds nothing that can be
    kept out of."""
    kept: list[KeptOut] = []
    counted: Counter[str] = Counter()
    widths: dict[str, set[float]] = {"line": set(), "point": set()}
    ignored: Counter[str] = Counter()
    for feature in read_features(path):
        try:
            # A geometry that is half good is not half kept.
            areas = list(_read(feature))
        except (KeyError, TypeError, ValueError, AttributeError) as error:
            ignored[str(error) if type(error) is ValueError else N_("not GeoJSON")] += 1
            continue
        for what, area in areas:
            counted[what] += 1
            if what != "area":
                widths[what].add(2.0 * area.half_width_m)
            kept.append(area)
    found = KeepOuts(kept=tuple(kept), counted=counted, widths_m=widths, ignored=ignored)
    if not kept:
        raise ConfigurationError(
            f"{path} holds nothing to keep out of ({found.summary}); mend the file"
        )
    return found


def _read(feature: Feature | None) -> Iterator[tuple[str, KeptOut]]:
    if feature is None:
        raise TypeError
    properties = feature.properties
    kind, name = properties.get("kind") or "", properties.get("name") or ""
    called = f"{kind} {name}".strip() or N_("an area without a name")
    if feature.geometry is None:
        raise ValueError(N_("no geometry"))
    for shape in shapes(feature.geometry):
        half = 0.0 if shape.form is Form.AREA else _half(properties.get("width_m"))
        yield shape.form, KeptOut(name=called, parts=shape.parts, half_width_m=half)


def _half(width: object) -> float:
    if width is None:
        return WIDTH_M / 2.0
    if isinstance(width, bool) or not isinstance(width, int | float) or not math.isfinite(width):
        raise ValueError(N_("a width_m that is no number of metres"))
    if not 0.0 < width <= WIDEST_M:
        raise ValueError(f"a width_m of {width:g}")
    return float(width) / 2.0


def _lines(count: int, width: str) -> str:
    return ngettext(
        "{count} line widened to {width}", "{count} lines widened to {width}", count, width=width
    )


def _points(count: int, width: str) -> str:
    return ngettext(
        "{count} point widened to {width}", "{count} points widened to {width}", count, width=width
    )


def _metres(widths: Collection[float]) -> str:
    low, high = min(widths), max(widths)
    most = f"{number(high)} m"
    return most if low == high else _("{low} to {high}", low=number(low), high=most)
