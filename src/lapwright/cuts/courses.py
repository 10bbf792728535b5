"""Wide pieces one behind another: which lie nose to tail, and which make a row with one band left free.

Pieces higher than half the stock cannot lie side by side, so they follow one another. Two things are worth
arranging: sloped or stepped ends that reach into one another, and lower pieces in a row, so that the band
beside them takes long strips.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np

from lapwright.cuts.shapes import Rect, Shape, fitting
from lapwright.cuts.space import Lie

ALIKE = 0.75  # strips less high than this part of another do not share its lane
WORTH_IT = 1000  # units (0.1 m): ends that save less stay apart, so that rolls can be filled more freely


@dataclass
class Block:
    """A stretch of stock with what lies on it, from 0 to `length`."""

    length: int
    lies: list[Lie]

    @property
    def first(self) -> tuple[int, str]:
        """When its earliest piece is installed."""
        return min((lie.shape.cut.installed, lie.shape.cut.id) for lie in self.lies)

    @property
    def solids(self) -> list[Rect]:
        """The rectangles that cover what lies on it."""
        return [r for lie in self.lies for r in lie.solids]

    def moved(self, dx: int) -> list[Lie]:
        """What lies on it, farther along."""
        return [lie.moved(dx) for lie in self.lies]


def alone(shape: Shape, width: int) -> Block:
    """Return a wide piece at the lower edge, turned so that most of its free room is on the upper side."""
    ways = [a for a in shape.angles if shape.size(a)[1] <= width]
    degrees = ways[0]
    length, _ = shape.size(degrees)
    below = sum((x1 - x0) * y0 for x0, y0, x1, _ in shape.solids_at(0, 0, degrees))
    above = sum((x1 - x0) * (width - y1) for x0, _, x1, y1 in shape.solids_at(0, 0, degrees))
    if below > above and (degrees + 180) in ways:
        degrees += 180
    return Block(length, [Lie(shape, 0, 0, degrees)])


def nested(shapes: Sequence[Shape], width: int, longest: int, least: int) -> list[Block]:
    """Return blocks of wide pieces, ends laid into one another where that saves length.

    The pair that saves most first; least: ends that leave less room than this are straight.
    """
    blocks = [alone(s, width) for s in sorted(shapes, key=lambda s: (s.cut.installed, s.cut.id))]
    ways = {n: _ways(b, width) for n, b in enumerate(blocks) if len(b.lies) == 1}
    gains: dict[tuple[int, int], tuple[int, Block]] = {}

    def consider(n: int, m: int) -> None:
        best = _best_pair(ways[n], ways[m], width, longest, least)
        if best is not None:
            gains[n, m] = best

    numbers = list(ways)
    for n in numbers:
        for m in numbers:
            if n != m:
                consider(n, m)
    while gains:
        (n, m), (_, block) = max(gains.items(), key=lambda item: (item[1][0], -item[0][0], -item[0][1]))
        blocks[n] = block
        del ways[m]
        ways[n] = [_Way(block.lies, block.length, width)]
        gains = {key: value for key, value in gains.items() if not {n, m} & set(key)}
        for k in ways:
            if k != n:
                consider(n, k)
                consider(k, n)
    return [blocks[n] for n in sorted(ways)]


def laned(shapes: Sequence[Shape], width: int, longest: int) -> list[tuple[Block, int]]:
    """Return blocks, with their heights, of two or more strips one behind another, sloped or stepped ends laid into one another.

    Strips up to half the stock high that are about as high as each other; the pair that saves most area first.
    Strips that save nothing are left out. A block is as wide as its highest strip.
    """
    parts: dict[int, tuple[Block, int]] = {}
    for n, shape in enumerate(shapes):
        ways = [] if shape.full else [a for a in fitting(shape, longest, width // 2) if shape.size(a)[0] >= shape.size(a)[1]]
        if ways:
            length, high = shape.size(ways[0])
            block = Block(length, [Lie(shape, 0, 0, ways[0])])
            if any(max(way.free) > high // 4 for way in _lane_ways(block, high, high)):
                parts[n] = block, high
    known: dict[tuple[int, int], list[_Way]] = {}
    gains: dict[tuple[int, int], tuple[int, Block, int]] = {}

    def ways_of(n: int, lane: int) -> list[_Way]:
        if (n, lane) not in known:
            known[n, lane] = _lane_ways(*parts[n], lane)
        return known[n, lane]

    def consider(n: int, m: int) -> None:
        (a, ha), (b, hb) = parts[n], parts[m]
        high = max(ha, hb)
        if min(ha, hb) >= ALIKE * high:
            pair = _best_pair(ways_of(n, high), ways_of(m, high), high, longest, high // 4)
            saved = a.length * ha + b.length * hb - pair[1].length * high if pair is not None else 0
            if pair is not None and saved > 0:
                gains[n, m] = saved, pair[1], high

    for n, m in permutations(parts, 2):
        consider(n, m)
    joint: set[int] = set()
    while gains:
        (n, m), (_, block, high) = max(gains.items(), key=lambda item: (item[1][0], -item[0][0], -item[0][1]))
        del parts[m]
        parts[n] = block, high
        joint = (joint | {n}) - {m}
        known = {key: value for key, value in known.items() if key[0] not in (n, m)}
        gains = {key: value for key, value in gains.items() if not {n, m} & set(key)}
        for k in parts:
            if k != n:
                consider(n, k)
                consider(k, n)
    return [(*parts[n],) for n in sorted(joint)]


def rows(blocks: Sequence[Block], width: int, longest: int, least: int) -> list[Block]:
    """Put single pieces that leave a band of at least `least` beside them behind one another, equal heights."""
    low: dict[int, list[Block]] = {}
    out: list[Block] = []
    for block in blocks:
        lie = block.lies[0]
        height = lie.box[3]
        if len(block.lies) == 1 and width - height >= least:
            low.setdefault(round(height / BAND) * BAND, []).append(block)
        else:
            out.append(block)
    for height in sorted(low):
        row: list[Block] = []
        for block in low[height]:
            if sum(b.length for b in row) + block.length > longest:
                out.append(joined(row))
                row = []
            row.append(block)
        out.append(joined(row))
    return out


BAND = 100  # heights within a centimetre share a row


def joined(row: Sequence[Block]) -> Block:
    """Return blocks one behind another as one."""
    lies: list[Lie] = []
    x = 0
    for block in row:
        lies += block.moved(x)
        x += block.length
    return Block(x, lies)


class _Way:
    """One way a block can lie, with its solid rectangles and how much of the width its two ends leave free."""

    def __init__(self, lies: Sequence[Lie], length: int, width: int) -> None:
        self.lies = list(lies)
        self.length = length
        rects = np.array([r for lie in lies for r in lie.solids], dtype=np.int64)
        self.rects = rects
        self.free = []
        for end in (rects[:, 0] <= SHALLOW, rects[:, 2] >= length - SHALLOW):
            taken = rects[end]
            self.free.append(width - int((taken[:, 3] - taken[:, 1]).sum()) if len(taken) else width)


SHALLOW = 100  # units: what lies within a centimetre of the end makes the end's profile


def _ways(block: Block, width: int) -> list[_Way]:
    shape = block.lies[0].shape
    out = []
    for a in fitting(shape, block.length, width):
        height = shape.size(a)[1]
        for y in sorted({0, width - height}):
            out.append(_Way([Lie(shape, 0, y, a)], block.length, width))
    return out


def _lane_ways(block: Block, height: int, lane: int) -> list[_Way]:
    """Ways a strip or block can lie in a lane: turned end for end, and at either edge."""
    out = []
    for over in (0, 180):
        if all((lie.degrees + over) % 360 in lie.shape.angles for lie in block.lies):
            lies = [turned_over(lie, block.length, height) for lie in block.lies] if over else block.lies
            for y in sorted({0, lane - height}):
                out.append(_Way([Lie(o.shape, o.x, o.y + y, o.degrees) for o in lies], block.length, lane))
    return out


def turned_over(lie: Lie, length: int, height: int) -> Lie:
    """Return a shape on a stretch of stock after the stretch is turned end for end."""
    _, _, x1, y1 = lie.box
    return Lie(lie.shape, length - x1, height - y1, (lie.degrees + 180) % 360)


def _best_pair(
    first: Sequence[_Way], second: Sequence[_Way], width: int, longest: int, least: int
) -> tuple[int, Block] | None:
    best: tuple[int, Block] | None = None
    for a in first:
        if a.free[1] < least:
            continue
        for b in second:
            # two ends that together need more than the width do not reach past one another
            if a.free[1] + b.free[0] < width:
                continue
            at = _slide(a.rects, b.rects)
            length = max(a.length, at + b.length)
            gain = a.length + b.length - length
            if at >= 0 and gain >= WORTH_IT and length <= longest and (best is None or gain > best[0]):
                lies = [*a.lies, *(lie.moved(at) for lie in b.lies)]
                best = (gain, Block(length, lies))
    return best


def _slide(a: np.ndarray, b: np.ndarray) -> int:
    """How far along b has to start so that it lies clear behind a."""
    meet = (a[:, None, 1] < b[None, :, 3]) & (a[:, None, 3] > b[None, :, 1])
    reach = np.where(meet, a[:, None, 2] - b[None, :, 0], -1)
    return int(reach.max())
