"""Plain drawings for the report: axes, lines, points and regions, as SVG that stands alone."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from markupsafe import Markup
from numpy.typing import ArrayLike, NDArray

from groundstation.html.templates import templates
from groundstation.language.numbers import marked

WIDTH: Final = 620.0  # user units; own choice: two drawings side by side on a page
LEFT, RIGHT, TOP, FOOT = 58.0, 16.0, 22.0, 40.0  # room for the labels (own choice)
MOST_POINTS: Final = 1_500  # own choice: more than a line of this width shows
LETTER: Final = 8.0  # with some room: letters of 12 units, bold, are about 7 wide
AT_THE_RIGHT: Final = 0.72  # from this share of the width on words stand to the left of their place
NEAR_X, NEAR_Y = 44.0, 15.0  # closer than this, two words would run into each other


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A line, an area or a dot, ``kind`` being its class. Numbers are as SVG has them."""

    tag: str
    kind: str
    points: str = ""
    x: str = ""
    y: str = ""
    radius: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """Words at a place of the drawing, to its left where ``at_the_right`` of it."""

    x: str
    y: str
    text: str
    at_the_right: bool = False


@dataclass
class Drawing:
    """``x_range`` and ``y_range`` are what the frame holds. With ``even`` both axes have the same
    scale."""

    title: str
    x_range: tuple[float, float]
    y_range: tuple[float, float]
    x_name: str = ""
    y_name: str = ""
    height: float = 300.0
    even: bool = False
    shapes: list[Shape] = field(default_factory=list)
    words: list[Label] = field(default_factory=list)
    _said: list[tuple[float, float]] = field(default_factory=list)
    _marked: list[tuple[float, float]] = field(default_factory=list)

    def __post_init__(self) -> None:
        (x0, x1), (y0, y1) = _opened(self.x_range), _opened(self.y_range)
        wide, high = WIDTH - LEFT - RIGHT, self.height - TOP - FOOT
        if self.even:
            scale = max((x1 - x0) / wide, (y1 - y0) / high)
            mx, my = (x0 + x1) / 2.0, (y0 + y1) / 2.0
            x0, x1 = mx - scale * wide / 2.0, mx + scale * wide / 2.0
            y0, y1 = my - scale * high / 2.0, my + scale * high / 2.0
        self.x_range, self.y_range = (x0, x1), (y0, y1)

    def line(self, x: ArrayLike, y: ArrayLike, kind: str) -> None:
        self.shapes.append(Shape(tag="polyline", kind=kind, points=self._points(x, y)))

    def area(self, x: ArrayLike, y: ArrayLike, kind: str) -> None:
        self.shapes.append(Shape(tag="polygon", kind=kind, points=self._points(x, y)))

    def dots(self, x: ArrayLike, y: ArrayLike, kind: str, radius: float = 2.5) -> None:
        for pair in self._points(x, y).split():
            px, py = pair.split(",")
            self.shapes.append(Shape(tag="circle", kind=kind, x=px, y=py, radius=radius))

    def word(self, x: float, y: float, text: str, *, if_free: bool = False) -> None:
        """With ``if_free`` it is left out where it would cover another one."""
        [pair] = self._points([x], [y]).split()
        px, py = pair.split(",")
        at_x, at_y = float(px), float(py)
        covers = any(abs(a - at_x) < NEAR_X and abs(b - at_y) < NEAR_Y for a, b in self._said)
        if if_free and covers:
            return
        self._said.append((at_x, at_y))
        right = at_x > AT_THE_RIGHT * WIDTH
        self.words.append(Label(x=px, y=py, text=text, at_the_right=right))

    def mark(self, x: float, text: str) -> None:
        """A time, as an upright line, its text below those of others that it would cover."""
        low, high = self.y_range
        self.line([x, x], [low, high], "mark")
        px, wide = self._x(x), LETTER * len(text)
        left = px - wide if px > AT_THE_RIGHT * WIDTH else px
        lower = sum(left < b and a < left + wide for a, b in self._marked)
        self._marked.append((left, left + wide))
        line = NEAR_Y * (high - low) / (self.height - TOP - FOOT)
        self.word(x, high - lower * line, text)

    def svg(self, x_ticks: Sequence[tuple[float, str]] | None = None) -> Markup:
        """``x_ticks`` are (value, text) where the axis is no plain number."""
        ticks = x_ticks or [(step, _short(step)) for step in _steps(*self.x_range)]
        drawn = (
            templates("groundstation.debrief")
            .get_template("drawing.html")
            .render(
                drawing=self,
                width=WIDTH,
                left=LEFT,
                right=WIDTH - RIGHT,
                top=TOP,
                foot=f"{self.height - FOOT:.1f}",
                under=f"{self.height - FOOT + 15:.1f}",
                last=f"{self.height - 6:.1f}",
                wide=WIDTH - LEFT - RIGHT,
                high=self.height - TOP - FOOT,
                x_ticks=[(f"{self._x(value):.1f}", text) for value, text in ticks],
                y_ticks=[
                    (f"{self._y(value):.1f}", f"{self._y(value) + 4:.1f}", _short(value))
                    for value in _steps(*self.y_range)
                ],
            )
        )
        return Markup(drawn)

    def _x(self, value: float) -> float:
        low, high = self.x_range
        return LEFT + (value - low) / (high - low) * (WIDTH - LEFT - RIGHT)

    def _y(self, value: float) -> float:
        low, high = self.y_range
        return self.height - FOOT - (value - low) / (high - low) * (self.height - TOP - FOOT)

    def _points(self, x: ArrayLike, y: ArrayLike) -> str:
        xs, ys = _thinned(x), _thinned(y)
        return " ".join(
            f"{self._x(float(a)):.1f},{self._y(float(b)):.1f}" for a, b in zip(xs, ys, strict=True)
        )


def span_of(*values: Iterable[float]) -> tuple[float, float]:
    """The least and the most of all of them."""
    everything = np.concatenate(
        [np.asarray(list(series), dtype=float).reshape(-1) for series in values]
    )
    return float(everything.min()), float(everything.max())


def _thinned(values: ArrayLike) -> NDArray[np.float64]:
    whole = np.asarray(values, dtype=float)
    step = max(1, math.ceil(len(whole) / MOST_POINTS))
    return whole if step == 1 else np.append(whole[::step], whole[-1])


def _opened(span: tuple[float, float]) -> tuple[float, float]:
    low, high = span
    room = (high - low) * 0.04 or max(abs(high) * 0.1, 1.0)
    return low - room, high + room


def _steps(low: float, high: float) -> list[float]:
    raw = (high - low) / 6.0
    ten = 10.0 ** math.floor(math.log10(raw))
    step = next(n * ten for n in (1.0, 2.0, 5.0, 10.0) if n * ten >= raw)
    return [step * n for n in range(math.ceil(low / step), math.floor(high / step) + 1)]


def _short(value: float) -> str:
    return marked(f"{value:.10g}")
