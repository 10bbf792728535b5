"""Small pieces into free rooms: each time the room and the piece that suit each other best."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from lapwright.cuts.shapes import UNIT_M, Rect, Shape, fitting
from lapwright.cuts.space import Lie, take

Ints = NDArray[np.int64]

TIE = 0.02  # suits within this of each other count as equal, and the larger piece goes first


@dataclass
class Kinds:
    """Shapes by kind: equal rectangles are one kind. One row per kind and way of lying.

    waiting: the shapes of each kind, earliest installed last; w, h: size as it lies; area: of the flat, m2.
    """

    waiting: list[list[Shape]]
    kind: Ints
    degrees: Ints
    w: Ints
    h: Ints
    area: NDArray[np.float64]
    count: Ints = field(init=False)

    def __post_init__(self) -> None:
        self.count = np.array([len(self.waiting[k]) for k in self.kind], dtype=np.int64)

    def copy(self) -> Kinds:
        """The same shapes, to be laid once more."""
        return Kinds([list(w) for w in self.waiting], self.kind, self.degrees, self.w, self.h, self.area)

    def pop(self, row: int) -> Shape:
        """Take the next shape of a row's kind."""
        k = int(self.kind[row])
        self.count[self.kind == k] -= 1
        return self.waiting[k].pop()

    @property
    def left(self) -> list[Shape]:
        """All shapes still waiting."""
        return [s for w in self.waiting for s in w]

    @property
    def least(self) -> int:
        """Short side of the narrowest shape waiting."""
        live = self.count > 0
        return int(np.minimum(self.w, self.h)[live].min()) if live.any() else 0


def kinds_of(shapes: Sequence[Shape], length: int, width: int) -> Kinds:
    """Sort shapes into kinds that may lie on a length and a width."""
    found: dict[tuple[object, ...], list[Shape]] = {}
    for s in sorted(shapes, key=lambda s: (-s.cut.installed, s.cut.id)):
        found.setdefault((s.w, s.h, s.angles) if s.full else (s.w, s.h, s.angles, s.poly.wkb), []).append(s)
    waiting = [found[key] for key in sorted(found, key=lambda k: (-k[0] * k[1], k))]  # type: ignore[operator]
    rows: list[tuple[int, int, int, int, float]] = []
    for k, group in enumerate(waiting):
        s = group[0]
        seen = set()
        for a in fitting(s, length, width):
            w, h = s.size(a)
            if (w, h) not in seen:
                seen.add((w, h))
                rows.append((k, a, w, h, s.poly.area))
    table = np.array(rows, dtype=float).reshape(-1, 5)
    whole = table[:, :4].astype(np.int64)
    return Kinds(waiting, whole[:, 0], whole[:, 1], whole[:, 2], whole[:, 3], table[:, 4])


def fill(rooms: list[list[Rect]], kinds: Kinds) -> list[list[Lie]]:
    """Lay kinds in free rooms until none fits; return where each went. `rooms` and `kinds` are used up.

    rooms: free rectangles of several stretches of stock, each in its own coordinates; the answer likewise.
    Each time the room and the piece that waste least together, the larger of near equals.
    """
    laid: list[list[Lie]] = [[] for _ in rooms]
    if not len(kinds.kind):
        return laid
    least = kinds.least
    keys = [(n, r) for n, free in enumerate(rooms) for r in free]
    table = _scores(np.array([r for _, r in keys], dtype=np.int64).reshape(-1, 4), kinds, least)
    best = {key: _best(row) for key, row in zip(keys, table, strict=True)}
    while best:
        key, (score, row) = max(best.items(), key=lambda item: item[1][0])
        if score <= 0:
            break
        n, (x, y, _, _) = key
        lie = Lie(kinds.pop(row), x, y, int(kinds.degrees[row]))
        laid[n].append(lie)
        for solid in lie.solids:
            before = rooms[n]
            kept, new = take(before, solid, least)
            if len(kept) < len(before):
                rooms[n] = kept + new
                for r in before:
                    if r not in kept:
                        del best[n, r]
                if new:
                    for r, scores in zip(new, _scores(np.array(new), kinds, least), strict=True):
                        best[n, r] = _best(scores)
        if kinds.count[row] == 0:
            gone = kinds.kind[row]
            again = [key for key, (value, k) in best.items() if value > 0 and kinds.kind[k] == gone]
            if again:
                table = _scores(np.array([r for _, r in again]), kinds, least)
                best.update({key: _best(scores) for key, scores in zip(again, table, strict=True)})
    return laid


def _best(scores: NDArray[np.float64]) -> tuple[float, int]:
    k = int(scores.argmax())
    return float(scores[k]), k


def _scores(rects: Ints, kinds: Kinds, least: int) -> NDArray[np.float64]:
    """How well every kind suits every room; below 0 where it does not fit."""
    w, h, area = kinds.w, kinds.h, kinds.area
    left_w = (rects[:, 2] - rects[:, 0])[:, None] - w
    left_h = (rects[:, 3] - rects[:, 1])[:, None] - h
    fits = (left_w >= 0) & (left_h >= 0) & (kinds.count > 0)
    lost = np.where(left_h < least, left_h * w, 0) + np.where(left_w < least, left_w * h, 0)
    suits = area / (area + np.maximum(lost, 0) * UNIT_M**2)
    return np.where(fits, np.round(suits / TIE) * 1e3 + area, -1.0)
