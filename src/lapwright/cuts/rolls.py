"""Blocks and lengths onto stock units: opened units first, then what is on hand, then new ones."""

from __future__ import annotations

from collections.abc import Sequence

from lapwright.cuts.blocks import Block, Lie, course_block, fill, strip_blocks
from lapwright.cuts.pack1d import pack_bins
from lapwright.cuts.shapes import Shape, angle
from lapwright.cuts.stockroom import Kind, Unit, free_inside


def lay_rolls(shapes: Sequence[Shape], kind: Kind, have: Sequence[Unit]) -> list[Unit]:
    """Lay shapes on rolls or sheets; `have` is filled in place, new units are returned."""
    width, longest = kind.width + kind.kerf, kind.length - kind.trim + kind.kerf
    wide = [s for s in shapes if not is_strip(s, width, longest)]
    strips = [s for s in shapes if is_strip(s, width, longest)]
    for unit in have:
        scrap = Block(unit.start, free=free_inside(unit, kind.kerf))
        strips = fill([scrap], strips)
        unit.lies += scrap.lies
    blocks = [course_block(s, width) for s in wide]
    left = fill(blocks, strips)
    for unit in have:
        if unit.width < width and left:
            for block in strip_blocks(
                [s for s in left if _fits(s, unit.rest, unit.width)], unit.width, unit.rest
            )[:1]:
                laid = {lie.shape.index for lie in block.lies}
                left = [s for s in left if s.index not in laid]
                _append(unit, block)
    blocks += strip_blocks(left, width, longest)
    blocks.sort(key=lambda b: (b.installed, b.lies[0].shape.cut.id))
    for unit in have:
        if unit.width >= width:
            for block in list(blocks):
                if block.length <= unit.rest:
                    _append(unit, block)
                    blocks.remove(block)
    return _new_units(blocks, kind)


def _new_units(blocks: Sequence[Block], kind: Kind) -> list[Unit]:
    longest = kind.length - kind.trim + kind.kerf
    new: list[Unit] = []
    for bin_ in pack_bins([b.length for b in blocks], longest).bins:
        unit = Unit("", kind.length + kind.kerf, kind.width + kind.kerf, False, kind.trim)
        for i in sorted(bin_, key=lambda i: (blocks[i].installed, i)):
            _append(unit, blocks[i])
        new.append(unit)
    return new


def lay_lengths(shapes: Sequence[Shape], kind: Kind, have: Sequence[Unit]) -> list[Unit]:
    """Lay shapes one after another on lengths; `have` is filled in place, new units are returned."""
    width = kind.width + kind.kerf if kind.width else 0
    blocks = [_alone(s, kind.width) for s in shapes]
    blocks.sort(key=lambda b: (-b.length, b.installed, b.lies[0].shape.cut.id))
    for unit in have:
        for block in list(blocks):
            if block.length <= unit.rest and (not kind.width or unit.width >= width):
                _append(unit, block)
                blocks.remove(block)
    return _new_units(blocks, kind)


def is_strip(shape: Shape, width: int, longest: int) -> bool:
    """True when two of it could lie side by side, or it could be turned."""
    lying = [shape.size(a) for a in shape.angles]
    fits = {(w, h) for w, h in lying if h <= width and w <= longest}
    return len(fits) > 1 or any(2 * h <= width for _, h in fits)


def _fits(shape: Shape, length: int, width: int) -> bool:
    return any(w <= length and h <= width for w, h in (shape.size(a) for a in shape.angles))


def _append(unit: Unit, block: Block) -> None:
    at = max(unit.end, unit.start)
    unit.lies += [Lie(lie.shape, lie.x + at, lie.y, lie.degrees) for lie in block.lies]


def _alone(shape: Shape, width: int) -> Block:
    degrees = angle(shape, width)
    return Block(shape.size(degrees)[0], [Lie(shape, 0, 0, degrees)])
