"""The walk round the house: which face follows which, and where each lies seen from above.

Canonical order is walking to the right while facing the wall, which is counter-clockwise seen from
above; the anchor face runs along +x and outside is on its right-hand side (-y).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

Corner = tuple[float, float]


@dataclass(frozen=True)
class Walked:
    """A loop in canonical order. `order`: indexes of the faces as listed; `turns`: degrees at each right end.

    `turns[i]` is None where the file gives none (it is needed only between two faces).
    """

    order: tuple[int, ...]
    turns: tuple[float | None, ...]


def canonical(turns: Sequence[float | None], closed: bool, left: bool) -> Walked:
    """Return the loop as walked to the right. turns: as listed, each at the far end of its face.

    left: the faces were listed walking left, so each turn stands at the face's left end. The first face
    listed stays first in a ring; an open chain is reversed.

    >>> canonical([90, 80, 100, 90], closed=True, left=True)
    Walked(order=(0, 3, 2, 1), turns=(90, 100, 80, 90))
    """
    n = len(turns)
    if not left:
        return Walked(tuple(range(n)), tuple(turns))
    if closed:
        order = [0, *range(n - 1, 0, -1)]
    else:
        order = list(range(n - 1, -1, -1))
    # Listed walking left, the right end of face k is where face k-1 ended, so its turn is turns[k-1].
    return Walked(tuple(order), tuple(turns[k - 1] if k or closed else None for k in order))


def headings(turns: Sequence[float], first_deg: float = 0.0) -> list[float]:
    """Return the direction of each face in degrees, counter-clockwise from +x; `turns` at the right ends."""
    out = [first_deg]
    for turn in turns[:-1]:
        out.append(out[-1] + turn)
    return out


def corners(
    widths_m: Sequence[float], turns_deg: Sequence[float], first_deg: float = 0.0, start: Corner = (0.0, 0.0)
) -> list[Corner]:
    """Return the n + 1 corners of the walk, metres; in a ring that closes, the last is the first.

    widths in metres, turns in degrees at the right ends (the last one is not used).

    >>> [(round(x, 6), round(y, 6)) for x, y in corners([4, 3, 4, 3], [90, 90, 90, 90])]
    [(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0), (0.0, 0.0)]
    """
    x, y = start
    out = [(x, y)]
    for width, heading in zip(widths_m, headings(turns_deg, first_deg), strict=True):
        x += width * _cos(heading)
        y += width * _cos(heading - 90)
        out.append((x, y))
    return out


def _cos(degrees: float) -> float:
    """Return the cosine, exact at multiples of 90 degrees (square corners stay on the grid)."""
    quarter = degrees % 360
    if quarter % 90 == 0:
        return (1.0, 0.0, -1.0, 0.0)[int(quarter // 90) % 4]
    return math.cos(math.radians(degrees))
