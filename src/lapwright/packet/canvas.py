"""A small SVG canvas that knows where words already stand, so that they do not run into each other.

Units are points on paper (1/72 in) or, on a screen, user units; y runs down. All numbers are written
with two decimals, so the same drawing gives the same bytes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from numpy.typing import NDArray

Box = tuple[float, float, float, float]  # left, top, right, bottom
XY = tuple[float, float]

INK = "#1b1e21"
SOFT = "#5d646b"
FAINT = "#a9afb4"
LAP = "#e3ddd0"
SHEET = "#f7f4ee"

# Widths of common letters in a plain sans-serif, in parts of the size (measured roughly, on the wide side).
_NARROW = set("ijl.,:;'|!()[] ft/-\"")


@lru_cache(maxsize=20_000)
def _parts(text: str) -> float:
    return sum(0.36 if c in _NARROW else 0.72 if c.isupper() or c in "mw×—" else 0.56 for c in text)


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Return about how wide a text is; on the wide side, so that boxes made from it are safe.

    >>> 20 < text_width("B3.2", 10) < 26
    True
    """
    return _parts(text) * size * (1.05 if bold else 1.0)


def path_data(rings: Iterable[Sequence[XY]], closed: bool) -> str:
    """Write rings (or open lines) as the `d` of an SVG path, with at most two decimals and no minus zero.

    >>> path_data([[(0, -0.001), (10.5, 3.257)]], True)
    'M0 0L10.5 3.26Z'
    """
    form, flat = "", list[float]()
    for ring in rings:
        form += "M" + "L".join(["%.12g %.12g"] * len(ring)) + ("Z" if closed else "")
        for x, y in ring:
            flat += (round(x, 2) + 0.0, round(y, 2) + 0.0)  # adding zero turns minus zero into zero
    return form % tuple(flat)


def number(value: float) -> str:
    """Write a coordinate with at most two decimals and no minus zero."""
    return f"{round(value, 2) + 0.0:.12g}"


@dataclass
class Canvas:
    """Collects SVG elements and remembers the boxes of words already set. `font` is the family list.

    paper: words get a white box beneath them, which prints plainly; on a screen they get a white edge.
    """

    width: float
    font: str
    height: float = 0.0
    paper: bool = False
    _boxes: NDArray[np.float64] = field(default_factory=lambda: np.empty((64, 4)))  # grows; the first _count are set
    _count: int = 0
    _parts: list[str] = field(default_factory=list)

    # ------------------------------------------------------------ marks on the paper

    def path(
        self,
        rings: Iterable[Sequence[XY]],
        *,
        fill: str = "none",
        stroke: str = INK,
        width: float = 0.8,
        dash: str = "",
        title: str = "",
        closed: bool = True,
    ) -> None:
        """Draw rings (or open lines) as one path, with an accessible name when `title` is given."""
        d = path_data(rings, closed)
        if not d:
            return
        inner = f"<title>{escape(title)}</title>" if title else ""
        wide = "" if stroke == "none" else f' stroke-width="{number(width)}"'
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        self._parts.append(f'<path d="{d}" fill="{fill}" stroke="{stroke}"{wide}{dashes}>{inner}</path>')

    def line(self, a: XY, b: XY, *, width: float = 0.6, stroke: str = INK, dash: str = "") -> None:
        """Draw a straight line."""
        self.path([(a, b)], stroke=stroke, width=width, dash=dash, closed=False)

    def dot(self, at: XY, radius: float = 1.1) -> None:
        """Draw a small full dot (the foot of a leader)."""
        self._parts.append(f'<circle cx="{number(at[0])}" cy="{number(at[1])}" r="{number(radius)}" fill="{INK}"/>')

    def text(
        self,
        at: XY,
        text: str,
        size: float,
        *,
        anchor: str = "middle",
        bold: bool = False,
        up: bool = False,
        color: str = INK,
        halo: bool = True,
    ) -> None:
        """Set a word; `at` is the middle of its height. `up` turns it to read from below.

        halo: white beneath the letters, so that lines do not run through them.
        """
        # The baseline lies about a third of the size below the middle of figures and capitals.
        x, y = at
        wide = text_width(text, size, bold) * 0.92  # the estimate is on the wide side
        dx, dy = (size * 0.34, 0.0) if up else (0.0, size * 0.34)
        turn = f' transform="rotate(-90 {number(x + dx)} {number(y + dy)})"' if up else ""
        weight = ' font-weight="700"' if bold else ""
        edge = ""
        if halo and self.paper:
            x0, y0, x1, y1 = box_at(at, *((size * 0.8, wide) if up else (wide, size * 0.8)))
            self.path([[(x0, y0), (x1, y0), (x1, y1), (x0, y1)]], fill="#fff", stroke="none")
        elif halo:
            edge = ' stroke="#fff" stroke-width="2.4" stroke-linejoin="round" paint-order="stroke"'
        self._parts.append(
            f'<text x="{number(x + dx)}" y="{number(y + dy)}" font-size="{number(size)}" '
            f'text-anchor={quoteattr(anchor)} fill="{color}"{edge}{weight}{turn}>{escape(text)}</text>'
        )

    def hatch(self, lines: Iterable[Sequence[XY]], *, width: float = 0.4, stroke: str = SOFT) -> None:
        """Draw hatch lines as one path (no patterns: they print differently from reader to reader)."""
        self.path(lines, width=width, stroke=stroke, closed=False)

    # ------------------------------------------------------------ room for words

    def free(self, box: Box) -> bool:
        """Return whether nothing is set in the box."""
        return bool(self.free_of(np.array([box]))[0])

    def free_of(self, boxes: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Return for each box (rows of left, top, right, bottom) whether nothing is set in it."""
        x0, y0, x1, y1 = boxes.T[:, :, None]
        low_x, low_y, high_x, high_y = self._boxes[: self._count].T
        meet: NDArray[Any] = (x0 < high_x) & (low_x < x1) & (y0 < high_y) & (low_y < y1)
        taken: NDArray[np.bool_] = np.any(meet, axis=1)
        return ~taken

    def take(self, box: Box) -> None:
        """Keep a box free of other words."""
        if self._count == len(self._boxes):
            self._boxes = np.concatenate([self._boxes, np.empty_like(self._boxes)])
        self._boxes[self._count] = box
        self._count += 1

    def svg(self, title: str, description: str) -> str:
        """Return the whole picture as one self-contained SVG text."""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" '
            f'viewBox="0 0 {number(self.width)} {number(self.height)}" '
            f'width="{number(self.width)}" height="{number(self.height)}" '
            f'role="img" font-family={quoteattr(self.font)} '
            f'stroke-linejoin="round" fill-rule="evenodd">\n<title>{escape(title)}</title>\n<desc>{escape(description)}</desc>\n'
            f'<rect width="{number(self.width)}" height="{number(self.height)}" fill="#fff"/>\n'
            + "\n".join(self._parts)
            + "\n</svg>\n"
        )


def box_at(at: XY, width: float, height: float) -> Box:
    """Return the box of that size round a middle point."""
    return at[0] - width / 2, at[1] - height / 2, at[0] + width / 2, at[1] + height / 2


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Move positions apart so that neighbours are at least `gap` apart, each as near to its wish as may be.

    wanted: ascending. The answer is ascending and stays between `low` and `high` while there is room.

    >>> spread([10.0, 11.0, 40.0], 6.0, 0.0, 50.0)
    [7.5, 13.5, 40.0]
    """
    blocks: list[tuple[float, int]] = []  # first position, number of members
    for value in wanted:
        start, count = value, 1
        while blocks and start < blocks[-1][0] + blocks[-1][1] * gap - 1e-9:
            before, members = blocks.pop()
            start = (before * members + (start - members * gap) * count) / (members + count)
            count += members
        blocks.append((start, count))
    out = [start + i * gap for start, count in blocks for i in range(count)]
    for i in range(len(out) - 1, -1, -1):
        out[i] = min(out[i], high - (len(out) - 1 - i) * gap)
    for i in range(len(out)):
        out[i] = max(out[i], low + i * gap if low + (len(out) - 1) * gap <= high else low)
    return out


@lru_cache(maxsize=64)
def ring_offsets(first: float, step: float, rings: int) -> NDArray[np.float64]:
    """Return places round a point as rows of (x, y), nearer ones first, in sixteen directions."""
    return np.array(
        [
            (r * math.cos(math.tau * k / 16), r * math.sin(math.tau * k / 16))
            for r in (first + step * i for i in range(rings))
            for k in range(16)
        ]
    )
