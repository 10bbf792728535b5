"""Blocks: full-width lengths of a roll that hold one course, or strips side by side.

Every block may go anywhere along any roll, so that rolls are then a one-dimensional question.
Lengths are whole tenths of a millimetre (see `shapes`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from lapwright.cuts.shapes import Rect, Shape, angle, take


@dataclass(frozen=True)
class Lie:
    """One shape laid down: lower-left corner of its turned bounding box at (x, y) of the block or stock."""

    shape: Shape
    x: int
    y: int
    degrees: int

    @property
    def box(self) -> Rect:
        """The bounding box with kerf."""
        w, h = self.shape.size(self.degrees)
        return (self.x, self.y, self.x + w, self.y + h)


@dataclass
class Block:
    """A length of roll with what lies on it; `free`: the largest free rectangles left."""

    length: int
    lies: list[Lie] = field(default_factory=list)
    free: list[Rect] = field(default_factory=list)

    @property
    def installed(self) -> int:
        """Installed time of the earliest piece."""
        return min((lie.shape.cut.installed for lie in self.lies), default=0)

    def put(self, lie: Lie) -> None:
        """Lay a shape on a free rectangle; the free rectangles inside the shape stay free."""
        self.lies.append(lie)
        self.free = take(self.free, lie.box)
        self.free += [
            (x0 + lie.x, y0 + lie.y, x1 + lie.x, y1 + lie.y)
            for x0, y0, x1, y1 in lie.shape.free_turned(lie.degrees)
        ]


def course_block(shape: Shape, width: int) -> Block:
    """Return the block of one wide piece, lying along the roll's lower edge."""
    degrees = angle(shape, width - shape.kerf)
    length, _ = shape.size(degrees)
    block = Block(length, free=[(0, 0, length, width)])
    block.put(Lie(shape, 0, 0, degrees))
    return block


def fill(blocks: Sequence[Block], strips: Sequence[Shape]) -> list[Shape]:
    """Lay strips into the blocks' free rectangles, largest first, tightest fit; return those left over."""
    left: list[Shape] = []
    for shape in sorted(strips, key=lambda s: (-s.w * s.h, s.cut.installed, s.cut.id)):
        best: tuple[int, int, int] | None = None
        where: tuple[Block, Lie] | None = None
        for number, block in enumerate(blocks):
            for x0, y0, x1, y1 in block.free:
                for degrees in shape.angles[:2]:
                    w, h = shape.size(degrees)
                    slack_w, slack_h = x1 - x0 - w, y1 - y0 - h
                    if slack_w < 0 or slack_h < 0:
                        continue
                    score = (min(slack_w, slack_h), max(slack_w, slack_h), number)
                    if best is None or score < best:
                        best, where = score, (block, Lie(shape, x0, y0, degrees))
        if where is None:
            left.append(shape)
        else:
            where[0].put(where[1])
    return left


def strip_blocks(strips: Sequence[Shape], width: int, longest: int) -> list[Block]:
    """Lay strips side by side and one after another into as little length as possible.

    Blocks are up to `longest`. Lowest place first (the skyline), and there the strip that fills the gap best.
    """
    left = sorted(strips, key=lambda s: (-s.w * s.h, s.cut.installed, s.cut.id))
    blocks: list[Block] = []
    while left:
        block, left = _skyline(left, width, longest)
        blocks.append(block)
    return blocks


def _skyline(strips: Sequence[Shape], width: int, longest: int) -> tuple[Block, list[Shape]]:
    left = list(strips)
    line: list[tuple[int, int, int]] = [(0, 0, width)]  # (x reached, y0, y1), from low y to high
    block = Block(0)
    while left:
        k = min(range(len(line)), key=lambda i: (line[i][0], line[i][1]))
        x, y0, y1 = line[k]
        best: tuple[int, int, int] | None = None
        pick: Lie | None = None
        at = 0
        for i, shape in enumerate(left):
            for degrees in shape.angles[:2]:
                w, h = shape.size(degrees)
                if h <= y1 - y0 and x + w <= longest:
                    score = (y1 - y0 - h if y1 - y0 - h < min(width // 8, y1 - y0) else width, -w, i)
                    if best is None or score < best:
                        best, pick, at = score, Lie(shape, x, y0, degrees), i
        if pick is not None:
            left.pop(at)
            block.lies.append(pick)
            px0, py0, px1, py1 = pick.box
            line[k : k + 1] = [(px1, py0, py1)] + ([(px0, py1, y1)] if py1 < y1 else [])
            block.length = max(block.length, px1)
        else:
            sides = [line[i][0] for i in (k - 1, k + 1) if 0 <= i < len(line)]
            if not sides:
                break
            line[k] = (min(sides), y0, y1)
        line = _joined(line)
    return block, left


def _joined(line: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    out: list[tuple[int, int, int]] = []
    for x, y0, y1 in line:
        if out and out[-1][0] == x:
            out[-1] = (x, out[-1][1], y1)
        else:
            out.append((x, y0, y1))
    return out
