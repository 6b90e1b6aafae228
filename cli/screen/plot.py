"""Curves of worked figures: drawn in the terminal, or as SVG for paper."""

from __future__ import annotations

import math
from collections.abc import Iterator
from importlib import import_module
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

if TYPE_CHECKING:
    from ...engine.bench.figure import Curve

MARKERS = (".", "x", "o", "+", "*", "#", "%", "@")
DASHES = ("", "6 3", "2 2", "8 3 2 3", "1 3", "10 4")
WIDTH, HEIGHT, LEFT, RIGHT, TOP, FOOT = 640, 400, 70, 160, 40, 55


def terminal(curve: Curve, width: int = 76, height: int = 20) -> str:
    """The curve in plain characters, each line of it with a marker of its own."""
    plotext: Any = import_module("plotext")
    figure = plotext.figure
    figure.clear()
    figure.legend(active=False)
    figure.plot_size(width, height)
    figure.title(curve.title)
    figure.label(curve.x_name, "x")
    figure.label(curve.y_name, "y")
    for number, (name, x, y) in enumerate(curve.lines):
        if x:
            signal = figure.signal(list(x), list(y), marker=MARKERS[number % len(MARKERS)])
            if len(x) > 1 and name != "read":
                signal.lines()
            figure.draw(signal)
    if curve.x_log:
        figure.ruler("x").scale("log")
    return str(figure.build().string(colorless=True)).rstrip()


def key(curve: Curve) -> str:
    """Which marker is which line."""
    return "   ".join(
        f"{MARKERS[number % len(MARKERS)]} {name}" for number, (name, x, _) in enumerate(curve.lines) if x
    )


def svg(curve: Curve) -> str:
    """The curve as text of a standing SVG picture: axes, ticks, lines told apart without color, and a key.

    Safe to take into a page as it is: one element, in the page's own ink, with no ids, styles, scripts or links.
    """
    xs = [value for _, x, _ in curve.lines for value in x]
    ys = [value for _, _, y in curve.lines for value in y]
    across = _Scale(min(xs), max(xs), LEFT, WIDTH - RIGHT, curve.x_log)
    up = _Scale(min(0.0, min(ys)) if min(ys) >= 0 else min(ys), max(ys), HEIGHT - FOOT, TOP, False)
    body = "\n".join(
        (
            *(_tick(across.place(x), HEIGHT - FOOT, x, True) for x in across.ticks()),
            *(_tick(LEFT, up.place(y), y, False) for y in up.ticks()),
            *(
                line
                for number, (name, x, y) in enumerate(curve.lines)
                for line in _line(number, name, [(across.place(a), up.place(b)) for a, b in zip(x, y, strict=True)])
            ),
        )
    )
    return f"""<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img"
 font-family="sans-serif" font-size="12" fill="none" stroke="currentColor">
<title>{_plain(curve.title)}</title>
<rect x="{LEFT}" y="{TOP}" width="{WIDTH - RIGHT - LEFT}" height="{HEIGHT - FOOT - TOP}"/>
{_text(LEFT, TOP - 26, curve.title)}
{_text((LEFT + WIDTH - RIGHT) / 2, HEIGHT - 12, curve.x_name, "middle")}
{_text(8, TOP - 9, curve.y_name)}
{body}
</svg>
"""


class _Scale:
    """Where a value stands between two edges of the picture, straight or by decades."""

    def __init__(self, low: float, high: float, start: float, end: float, log: bool) -> None:
        self.log = log
        self.low, self.high = (math.log10(low), math.log10(high)) if log else (low, high)
        if self.high <= self.low:
            self.high = self.low + 1.0
        self.start, self.end = start, end

    def place(self, value: float) -> float:
        at = math.log10(value) if self.log else value
        return self.start + (at - self.low) / (self.high - self.low) * (self.end - self.start)

    def ticks(self) -> Iterator[float]:
        if self.log:
            for decade in range(math.floor(self.low), math.ceil(self.high) + 1):
                yield from (
                    step * 10.0**decade
                    for step in (1, 2, 5)
                    if self.low - 1e-9 <= math.log10(step * 10.0**decade) <= self.high + 1e-9
                )
            return
        rough = (self.high - self.low) / 6
        unit = 10.0 ** math.floor(math.log10(rough))
        step = next(unit * times for times in (1, 2, 5, 10) if unit * times >= rough)
        for index in range(math.ceil(self.low / step - 1e-9), math.floor(self.high / step + 1e-9) + 1):
            yield index * step


def _tick(x: float, y: float, value: float, below: bool) -> str:
    label = f"{value:g}"
    if below:
        return f'<path d="M{x:.1f} {y:.1f}v5"/>{_text(x, y + 18, label, "middle")}'
    return f'<path d="M{x:.1f} {y:.1f}h-5"/>{_text(x - 8, y + 4, label, "end")}'


def _line(number: int, name: str, points: list[tuple[float, float]]) -> Iterator[str]:
    dash = DASHES[number % len(DASHES)]
    style = f' stroke-dasharray="{dash}"' if dash else ""
    marked = len(points) == 1 or name == "read"  # readings are points: nothing is known between them
    if marked:
        yield from (f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5"/>' for x, y in points)
    elif points:
        yield f'<polyline{style} points="{" ".join(f"{x:.1f},{y:.1f}" for x, y in points)}"/>'
    y = TOP + 12 + 18 * number
    if marked:
        yield f'<circle cx="{WIDTH - RIGHT + 22}" cy="{y}" r="5"/>'
    else:
        yield f'<path{style} d="M{WIDTH - RIGHT + 10} {y}h24"/>'
    yield _text(WIDTH - RIGHT + 40, y + 4, name)


def _text(x: float, y: float, text: str, anchor: str = "start") -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="currentColor" stroke="none">{_plain(text)}</text>'
    )


def _plain(text: str) -> str:
    """Text that is only text to an XML reader."""
    return escape("".join(sign for sign in text if sign.isprintable()))
