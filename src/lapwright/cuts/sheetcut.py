"""Pieces into sheets one by one: each where the least is left of the room it lies in.

Rolls are filled end to end; sheets are not, and a few of them take every piece in turn: widest first, long ones first,
big ones first, or as they are put up. Pieces may lie in the hollows of others.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from lapwright.cuts.shapes import Rect, Shape, fitting
from lapwright.cuts.space import Lie, take_all
from lapwright.cuts.stockroom import Kind, Unit

Order = Callable[[Shape], tuple[int, ...]]
Loss = Callable[[int, int, int, int], tuple[int, ...]]

ORDERS: tuple[Order, ...] = (
    lambda s: (-s.h, -s.w),
    lambda s: (-max(s.w, s.h), -min(s.w, s.h)),
    lambda s: (-s.w * s.h, -max(s.w, s.h)),
    lambda s: (-min(s.w, s.h), -max(s.w, s.h)),
    lambda _: (),  # the order of work
)
# what a room a x b loses by a piece w x h: across before along; the smaller rest; area
LOSSES: tuple[Loss, ...] = (
    lambda a, b, w, h: (b - h, a - w),
    lambda a, b, w, h: (min(a - w, b - h), max(a - w, b - h)),
    lambda a, b, w, h: (a * b - w * h, a - w),
)


# with the largest rooms, which may cross one another, and with rooms parted by straight cuts, as the layout counts them
TRIES = (*((loss, False) for loss in LOSSES), (LOSSES[0], True))


def fewest(shapes: Sequence[Shape], kind: Kind) -> int:
    """Return how many sheets the area of the shapes takes at least."""
    area = math.fsum(s.poly.area for s in shapes) / 1e-8
    return math.ceil(area / (kind.length * kind.width) - 1e-6)


def cut_sheets(shapes: Sequence[Shape], kind: Kind, most: int) -> list[Unit] | None:
    """Return the shapes on new sheets, or None when no try takes `most` sheets or fewer. Every shape fits a sheet."""
    best: list[Unit] | None = None
    least = fewest(shapes, kind)
    for order in ORDERS:
        ranked = sorted(shapes, key=lambda s, o=order: (o(s), s.index))  # type: ignore[misc]
        for loss, straight in TRIES:
            found = _tried(ranked, kind, loss, straight, most)
            if found is not None:
                best, most = found, len(found) - 1
                if len(found) <= least:
                    return best
    return best


def _tried(shapes: Sequence[Shape], kind: Kind, loss: Loss, straight: bool, most: int) -> list[Unit] | None:
    long, wide = kind.length - kind.trim + kind.kerf, kind.width + kind.kerf
    narrowest = max(1, min(min(s.w, s.h) for s in shapes))
    units: list[Unit] = []
    rooms: list[list[Rect]] = []
    for s in shapes:
        ways = [(d, *s.size(d)) for d in fitting(s, long, wide)]
        best: tuple[tuple[int, ...], int, int, int, int] | None = None
        for n, free in enumerate(rooms):
            for x0, y0, x1, y1 in free:
                for degrees, w, h in ways:
                    if w <= x1 - x0 and h <= y1 - y0:
                        cost = (*loss(x1 - x0, y1 - y0, w, h), degrees % 180, n, x0, y0)
                        if best is None or cost < best[0]:
                            best = cost, n, x0, y0, degrees
        if best is None:
            if len(units) == most:
                return None
            units.append(Unit("", kind.length + kind.kerf, kind.width + kind.kerf, False, kind.trim))
            rooms.append([(0, 0, long, wide)])
            best = (), len(units) - 1, 0, 0, ways[0][0]
        _, n, x, y, degrees = best
        units[n].lies.append(Lie(s, x + kind.trim, y, degrees))
        solids = s.solids_at(x, y, degrees)
        if straight:
            (room,) = [r for r in rooms[n] if r[:2] == (x, y)]
            rooms[n].remove(room)
            rooms[n] += [r for r in _parted(room, *s.size(degrees)) if min(r[2] - r[0], r[3] - r[1]) >= narrowest]
            rooms[n] += _apart(take_all([Lie(s, x, y, degrees).box], solids, narrowest))
        else:
            rooms[n] = take_all(rooms[n], solids, narrowest)
    return units


def _parted(room: Rect, w: int, h: int) -> list[Rect]:
    """Return what a piece in the lower left corner leaves of a room: the cut that keeps the larger rectangle whole."""
    x0, y0, x1, y1 = room
    if (x1 - x0 - w) * (y1 - y0) >= (x1 - x0) * (y1 - y0 - h):
        return [(x0 + w, y0, x1, y1), (x0, y0 + h, x0 + w, y1)]
    return [(x0 + w, y0, x1, y0 + h), (x0, y0 + h, x1, y1)]


def _apart(rooms: Sequence[Rect]) -> list[Rect]:
    """Return rooms that do not cross, largest first."""
    out: list[Rect] = []
    for a, b, c, d in sorted(rooms, key=lambda r: (-(r[2] - r[0]) * (r[3] - r[1]), r)):
        if all(a >= r or c <= p or b >= s or d <= q for p, q, r, s in out):
            out.append((a, b, c, d))
    return out
