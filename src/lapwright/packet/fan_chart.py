"""Draws fan tests as they are read: pressure to the right, flow upward, both on logarithmic scales.

Tests differ by the shape of their marks and by words at the end of their lines, never by color. The line is drawn
full over the pressures that were measured, dashed where it runs on beyond them; at 4, 10 and 50 Pa a whisker shows
where the line lies, 19 times of 20.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from lapwright.packet.canvas import FAINT, INK, SOFT, XY, Canvas, number, spread, text_width
from lapwright.packet.elevation import PRINT_FONT

WIDTH = 520.0
LEFT, TOP, RIGHT = 52.0, 10.0, 368.0  # of the plot; the words of the lines stand right of it
LEAST_HEIGHT = 258.0  # of the plot; more when many tests need words
CFM_PER_M3_H = 1.0 / (0.3048**3 * 60.0)  # exact
SIZE = 8.0
MARK = 3.4  # half width of a mark
WHISKERS = ((4.0, "flow4"), (10.0, "flow10"), (50.0, "flow50"))
Test = Mapping[str, Any]

# Unit outlines of the marks; a mark is full for the second mode of the same shape.
_SHAPES: tuple[tuple[XY, ...], ...] = (
    tuple((math.cos(math.tau * k / 16), math.sin(math.tau * k / 16)) for k in range(16)),
    ((-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)),
    ((0.0, -1.15), (1.05, 0.8), (-1.05, 0.8)),
    ((0.0, -1.2), (1.2, 0.0), (0.0, 1.2), (-1.2, 0.0)),
)


@dataclass(frozen=True)
class _Plot:
    """Where a pressure and a flow (m3/h) lie on the paper. `scale`: shown unit of flow per m3/h."""

    pressures: tuple[float, float]
    flows: tuple[float, float]
    scale: float
    unit: str
    bottom: float

    def at(self, p: float, q: float) -> XY:
        (low_p, high_p), (low_q, high_q) = self.pressures, self.flows
        x = LEFT + (RIGHT - LEFT) * math.log(p / low_p) / math.log(high_p / low_p)
        y = self.bottom - (self.bottom - TOP) * math.log(q / low_q) / math.log(high_q / low_q)
        return x, y

    def shown(self, flow_m3_h: float) -> str:
        return f"{float(f'{flow_m3_h * self.scale:.3g}'):.10g} {self.unit}"


def fan_chart(tests: Sequence[Test], units: Literal["imperial", "metric"] = "metric", font: str = PRINT_FONT) -> str:
    """Return the chart of rows of the contract's `tests[]` (with `points`) as one SVG text.

    Flow in cfm for imperial units, else m3/h. Rows without finite figures or points are left out; with no row left
    the chart holds its axes alone.
    """
    rows = [t for t in tests if t.get("points") and t.get("n") is not None and t.get("C_m3_h")]
    plot = _plot(rows, units)
    canvas = Canvas(WIDTH, font, plot.bottom + 34)
    _axes(canvas, plot)
    places = list(dict.fromkeys(t["test"] for t in rows))
    ends = []
    for test in rows:
        shape = _SHAPES[places.index(test["test"]) % len(_SHAPES)]
        ends.append(_line(canvas, test, plot))
        for p, q in test["points"]:
            x, y = plot.at(p, q)
            full = INK if test["mode"] == "pressurize" else "#fff"
            canvas.path([[(x + dx * MARK, y + dy * MARK) for dx, dy in shape]], fill=full, width=0.9)
    _words(canvas, rows, ends, plot)
    return canvas.svg("Fan test" if len(rows) == 1 else "Fan tests", _description(rows, plot))


def _plot(rows: Sequence[Test], units: str) -> _Plot:
    pressures = [4.0, 60.0, *(p for t in rows for p, _ in t["points"])]
    low, high = min(3.5, min(pressures) / 1.15), max(pressures) * 1.15
    flows = [q for t in rows for q in _heights(t, low, high)] or [10.0, 1000.0]
    scale, unit = (CFM_PER_M3_H, "cfm") if units == "imperial" else (1.0, "m3/h")
    bottom = TOP + max(LEAST_HEIGHT, 36.0 * len(rows))
    return _Plot((low, high), (min(flows) / 1.15, max(flows) * 1.15), scale, unit, bottom)


def _flow(test: Test, p: float) -> float:
    return float(float(test["C_m3_h"]) * p ** float(test["n"]))


def _heights(test: Test, low_p: float, high_p: float) -> list[float]:
    ends = [e for _, key in WHISKERS for e in test.get(f"{key}_95") or () if e]
    line = [_flow(test, low_p), _flow(test, high_p)]
    # A whisker of a hopeless test may reach anywhere: it does not stretch the paper.
    near = [e for e in ends if min(line) / 3.0 < e < max(line) * 3.0]
    return [q for _, q in test["points"]] + line + near


def _axes(canvas: Canvas, plot: _Plot) -> None:
    bottom, (low_p, _), (low_q, _) = plot.bottom, plot.pressures, plot.flows
    canvas.path([[(LEFT, TOP), (RIGHT, TOP), (RIGHT, bottom), (LEFT, bottom)]], width=0.8)
    for p in _ticks(*plot.pressures):
        x, _ = plot.at(p, low_q)
        strong = p == 50.0
        canvas.line((x, TOP), (x, bottom), width=0.9 if strong else 0.35, stroke=SOFT if strong else FAINT)
        canvas.text((x, bottom + 9), number(p), SIZE, bold=strong)
    last = math.inf
    for q in _ticks(plot.flows[0] * plot.scale, plot.flows[1] * plot.scale):
        _, y = plot.at(low_p, q / plot.scale)
        canvas.line((LEFT, y), (RIGHT, y), width=0.35, stroke=FAINT)
        if last - y > SIZE + 2:
            canvas.text((LEFT - 5, y), number(q), SIZE, anchor="end")
            last = y
    canvas.text(((LEFT + RIGHT) / 2, bottom + 24), "pressure between inside and outside, Pa", SIZE)
    canvas.text((LEFT - 40, (TOP + bottom) / 2), f"flow through the leaks, {plot.unit}", SIZE, up=True)


def _ticks(low: float, high: float) -> list[float]:
    """Return 1, 2, 3, 5, 7 times powers of ten within the range; 4 Pa stands with them since figures are read there."""
    out = []
    for power in range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1):
        out += [float(round(m * 10.0**power, 9)) for m in (1, 2, 3, 4, 5, 7)]
    return [t for t in out if low <= t <= high]


def _line(canvas: Canvas, test: Test, plot: _Plot) -> XY:
    """Draw a test's line and whiskers; return its right end."""
    measured = [p for p, _ in test["points"]]
    first, last = min(measured), max(measured)
    low_p, high_p = plot.pressures

    def on_line(p: float) -> XY:
        return plot.at(p, _flow(test, p))

    canvas.line(on_line(first), on_line(last), width=1.1)
    canvas.line(on_line(low_p), on_line(first), width=0.8, dash="4 3")
    canvas.line(on_line(last), on_line(high_p), width=0.8, dash="4 3")
    for p, key in WHISKERS:
        ends = test.get(f"{key}_95")
        if ends and all(ends):
            (x, low), (_, high) = plot.at(p, ends[0]), plot.at(p, ends[1])
            low, high = min(low, plot.bottom), max(high, TOP)
            if low > high:
                bars = [[(x, low), (x, high)], [(x - 3, low), (x + 3, low)], [(x - 3, high), (x + 3, high)]]
                canvas.path(bars, closed=False)
    return on_line(high_p)


def _words(canvas: Canvas, rows: Sequence[Test], ends: Sequence[XY], plot: _Plot) -> None:
    """Write the name and the figure at 50 Pa beside each line's end, with a leader."""
    order = sorted(range(len(rows)), key=lambda i: (ends[i][1], i))
    places = spread([ends[i][1] for i in order], 34.0, TOP + 12, plot.bottom - 20)
    x = RIGHT + 14
    room = WIDTH - x - 4
    for i, y in zip(order, places, strict=True):
        test = rows[i]
        canvas.line(ends[i], (x - 3, y), width=0.4, stroke=SOFT)
        canvas.text((x, y - 5), _cut(str(test["test"]), room), SIZE, anchor="start", bold=True)
        mark = "full marks" if test["mode"] == "pressurize" else "open marks"
        canvas.text((x, y + 5), _cut(f"{test['mode']}, {mark}", room), SIZE - 0.5, anchor="start")
        about = "about " if test.get("extrapolated") else ""
        text = f"{about}{plot.shown(_flow(test, 50.0))} at 50 Pa"
        canvas.text((x, y + 15), _cut(text, room), SIZE - 0.5, anchor="start")


def _cut(text: str, room: float) -> str:
    """Shorten a name that would run off the paper."""
    while text_width(text, SIZE, True) > room and len(text) > 4:
        text = text[:-2].rstrip("…") + "…"
    return text


def _description(rows: Sequence[Test], plot: _Plot) -> str:
    said = [
        f"{t['test']}, {t['mode']}: exponent {t['n']:g}, {plot.shown(_flow(t, 50.0))} at 50 Pa"
        + (" (extrapolated)" if t.get("extrapolated") else "")
        for t in rows
    ]
    return "; ".join(said) or "No fan test."
