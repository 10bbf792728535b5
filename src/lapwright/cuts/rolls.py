"""Pieces onto stock units: opened units first, then what is on hand, then new ones."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from lapwright.cuts.courses import Block, alone, nested, rows
from lapwright.cuts.fill import Kinds, fill, kinds_of
from lapwright.cuts.pack1d import pack_bins
from lapwright.cuts.region import Region
from lapwright.cuts.shapes import Shape, fitting
from lapwright.cuts.sheetcut import cut_sheets, fewest
from lapwright.cuts.space import Lie, take_all
from lapwright.cuts.stockroom import Kind, Unit, free_beside
from lapwright.cuts.turns import in_order_of_work, subset

RATES = (0.3, 0.5, 0.2, 1.5)  # see `Region.skyline`; each is best on some loads
WORK = 2500  # pieces laid while looking for the shortest way to lay the small ones
LEAST_TRIES, PLAIN_TRIES, MOST_TRIES = 8, 60, 90
SHORT_TAIL = 5000  # units (0.5 m): a shorter end of a roll is not worth setting out


def lay_rolls(shapes: Sequence[Shape], kind: Kind, have: Sequence[Unit]) -> list[Unit]:
    """Lay shapes on rolls or sheets; `have` is filled in place, new units are returned.

    Every shape has to fit a new unit or one of `have`.
    """
    width, longest = kind.width + kind.kerf, kind.length - kind.trim + kind.kerf
    shapes = _only_there(shapes, have, longest, width)
    wide = [s for s in shapes if is_wide(s, longest, width)]
    small = [s for s in shapes if not is_wide(s, longest, width)]
    for unit in have:
        small = _into(unit, free_beside(unit, kind.kerf), small)
        if unit.width < width:
            small = _behind(unit, small)
    best: tuple[tuple[int, int], list[Block], list[Shape]] | None = None
    for blocks in _arrangements(wide, small, longest, width):
        kinds = kinds_of(small, longest, width)
        blocks = _filled(blocks, kinds, width)
        left = kinds.left
        length = sum(b.length for b in blocks) + sum(
            b.length for b in strips(left, width, longest, len(RATES))
        )
        if best is None or (length, len(blocks)) < best[0]:
            best = (length, len(blocks)), blocks, left
    blocks, left = (best[1], best[2]) if best else ([], small)
    for unit in have:
        if unit.width >= width:
            blocks = _onto(unit, blocks)
            left = _behind(unit, left)
    units = _new_units(blocks, left, kind)
    if kind.form == "sheet" and units and not have and len(units) > fewest(shapes, kind):
        units = cut_sheets(shapes, kind, len(units) - 1) or units
    return units


def lay_lengths(shapes: Sequence[Shape], kind: Kind, have: Sequence[Unit]) -> list[Unit]:
    """Lay shapes one after another on lengths; `have` is filled in place, new units are returned."""
    width, longest = kind.width + kind.kerf, kind.length - kind.trim + kind.kerf
    blocks = []
    for s in _only_there(shapes, have, longest, width):
        degrees = fitting(s, longest, width)[0]
        blocks.append(Block(s.size(degrees)[0], [Lie(s, 0, 0, degrees)]))
    for unit in have:
        narrow = [b for b in blocks if b.lies[0].box[3] > unit.width]
        blocks = narrow + _onto(unit, [b for b in blocks if b.lies[0].box[3] <= unit.width])
    return _units(_bins(blocks, kind), kind)


def is_wide(shape: Shape, longest: int, width: int) -> bool:
    """True when it can lie only one way and is wider than half the stock."""
    sizes = {shape.size(a) for a in fitting(shape, longest, width)}
    return len(sizes) == 1 and 2 * next(iter(sizes))[1] > width


def strips(shapes: Sequence[Shape], width: int, longest: int, tries: int) -> list[Block]:
    """Lay small shapes in blocks of up to `longest`, the shortest of several tries."""
    if not shapes:
        return []
    kinds = kinds_of(shapes, longest, width)
    region = Region(kinds, width)
    best: list[Block] = []
    for n, liking in zip(range(tries), _likings(kinds), strict=False):
        blocks: list[Block] = []
        left = kinds.copy()
        # the last tries of a short list may not get as long as the best so far: pieces have to lie closer
        room = sum(b.length for b in best) - 1 if n >= PLAIN_TRIES else None
        while any(left.waiting):
            reach = longest if room is None else min(longest, room)
            lies = region.skyline(left, reach, RATES[n % len(RATES)], liking)
            if not lies:
                break
            blocks.append(Block(max(lie.box[2] for lie in lies), lies))
            if room is not None:
                room -= blocks[-1].length
        if not any(left.waiting) and (not best or _cost(blocks) < _cost(best)):
            best = blocks
    return best


def _cost(blocks: Sequence[Block]) -> tuple[int, int]:
    return sum(b.length for b in blocks), len(blocks)


def _likings(kinds: Kinds) -> Iterator[NDArray[np.float64] | None]:
    """First no liking for any kind (once per rate), then ever other ones, always the same.

    After `PLAIN_TRIES` the ways that one kind may lie are liked apart: few pieces may not fill the room beside
    the way that is best for many.
    """
    for _ in RATES:
        yield None
    state = 12345
    for n in itertools.count(len(RATES)):
        apart = n >= PLAIN_TRIES
        factors: list[float] = []
        for _ in kinds.kind if apart else kinds.waiting:
            state = (1103515245 * state + 12345) % 2**31  # a linear congruential generator, fixed start
            factors.append(0.7 + 0.6 * state / 2**31)
        yield np.array(factors) if apart else np.array(factors)[kinds.kind]


def _arrangements(
    wide: Sequence[Shape], small: Sequence[Shape], longest: int, width: int
) -> Iterator[list[Block]]:
    """Ways to put the wide pieces one behind another."""
    least = min((min(s.w, s.h) for s in small), default=width)
    single = [alone(s, width) for s in sorted(wide, key=lambda s: (s.cut.installed, s.cut.id))]
    close = nested(wide, width, longest, least)
    yield rows(close, width, longest, least)
    if len(close) < len(single):
        yield rows(single, width, longest, least)


def _filled(blocks: Sequence[Block], kinds: Kinds, width: int) -> list[Block]:
    """Fill the free room of the blocks with kinds; cut them apart again where nothing crosses."""
    rooms = [take_all([(0, 0, b.length, width)], b.solids, max(1, kinds.least)) for b in blocks]
    laid = fill(rooms, kinds)
    return [part for b, more in zip(blocks, laid, strict=True) for part in _apart(b.lies + more)]


def _apart(lies: Sequence[Lie]) -> list[Block]:
    out: list[Block] = []
    row: list[Lie] = []
    start = end = 0
    for lie in sorted(lies, key=lambda lie: (lie.box[0], lie.box[1])):
        if row and lie.x >= end:
            out.append(Block(end - start, [one.moved(-start) for one in row]))
            row, start = [], lie.x
        row.append(lie)
        end = max(end, lie.box[2])
    if row:
        out.append(Block(end - start, [one.moved(-start) for one in row]))
    return out


def _only_there(shapes: Sequence[Shape], have: Sequence[Unit], longest: int, width: int) -> list[Shape]:
    """Lay what is too long or wide for new stock on a unit that takes it; return the others."""
    out: list[Shape] = []
    for s in sorted(shapes, key=lambda s: (s.cut.installed, s.cut.id)):
        if fitting(s, longest, width):
            out.append(s)
            continue
        for unit in have:
            ways = fitting(s, unit.rest, unit.width)
            if ways:
                unit.add([Lie(s, 0, 0, ways[0])])
                break
    return out


def _into(unit: Unit, free: list[tuple[int, int, int, int]], small: list[Shape]) -> list[Shape]:
    """Fill the room beside and inside what already lies on an opened unit; return what is left."""
    if not free or not small:
        return small
    kinds = kinds_of(small, unit.length, unit.width)
    unit.lies += fill([free], kinds)[0]
    laid = {lie.shape.index for lie in unit.lies}
    return [s for s in small if s.index not in laid]


def _behind(unit: Unit, small: list[Shape]) -> list[Shape]:
    """Lay small pieces on the free end of a unit; return what is left."""
    if not small or unit.rest < SHORT_TAIL:
        return small
    kinds = kinds_of([s for s in small if fitting(s, unit.rest, unit.width)], unit.rest, unit.width)
    unit.add(Region(kinds, unit.width).skyline(kinds, unit.rest, RATES[0]))
    laid = {lie.shape.index for lie in unit.lies}
    return [s for s in small if s.index not in laid]


def _onto(unit: Unit, blocks: list[Block]) -> list[Block]:
    """Put the blocks on a unit that fill its rest best, early ones first; return the others."""
    blocks = sorted(blocks, key=lambda b: b.first)
    chosen = subset([b.length for b in blocks], unit.rest)
    for n in chosen:
        unit.add(blocks[n].lies)
    return [b for n, b in enumerate(blocks) if n not in chosen]


def _new_units(blocks: list[Block], left: list[Shape], kind: Kind) -> list[Unit]:
    """New units for blocks and small pieces: those as blocks of their own, or on the ends the others leave."""
    width, longest = kind.width + kind.kerf, kind.length - kind.trim + kind.kerf
    tries = min(MOST_TRIES, max(LEAST_TRIES, WORK // max(1, len(left))))
    whole = _units(_bins(blocks + strips(left, width, longest, tries), kind), kind)
    if not left or not blocks:
        return whole
    ends = _units(_bins(blocks, kind), kind)
    for unit in sorted(ends, key=lambda u: -u.rest):
        left = _behind(unit, left)
    ends += _units(_bins(strips(left, width, longest, len(RATES)), kind), kind)
    return min((whole, ends), key=lambda units: (len(units), sum(u.end for u in units)))


def _bins(blocks: Sequence[Block], kind: Kind) -> list[list[Block]]:
    """Sort blocks into as few new units as possible, in order of work where that costs no unit."""
    longest = kind.length - kind.trim + kind.kerf
    blocks = sorted(blocks, key=lambda b: b.first)
    lengths = [b.length for b in blocks]
    found = pack_bins(lengths, longest)
    bins = in_order_of_work(lengths, longest, len(found.bins)) or [sorted(b) for b in found.bins]
    return [[blocks[n] for n in b] for b in bins]


def _units(bins: Sequence[Sequence[Block]], kind: Kind) -> list[Unit]:
    out: list[Unit] = []
    for blocks in bins:
        unit = Unit("", kind.length + kind.kerf, kind.width + kind.kerf, False, kind.trim)
        for block in blocks:
            unit.add(block.lies)
        out.append(unit)
    return out
