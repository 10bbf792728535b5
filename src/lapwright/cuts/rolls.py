"""Pieces onto stock units: opened units first, then what is on hand, then new ones."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import shapely

from lapwright.cuts.courses import Block, alone, laned, nested, rows
from lapwright.cuts.fill import fill, kinds_of
from lapwright.cuts.pack1d import pack_bins
from lapwright.cuts.region import Dice, Guests, Region, with_guests
from lapwright.cuts.shapes import UNIT_M, Rect, Shape, fitting
from lapwright.cuts.sheetcut import cut_sheets, fewest
from lapwright.cuts.space import Lie, take_all
from lapwright.cuts.stockroom import Kind, Unit, free_beside
from lapwright.cuts.turns import in_order_of_work, subset

# Work limits: packings made of the strips, and ways to fill the rooms, from runs on the examples.
TRIES, ROUNDS, WORK = 32, 24, 250  # packings side by side; rounds of them for few pieces; pieces a round is for
MANY = 40  # pieces from which half the packings come out nearly as short
LOOKS = 4  # packings to compare arrangements by
FILLS, FILL_WORK = 24, 1500  # ways to fill the rooms for few pieces; pieces that they are for
SPREAD = 0.6  # how far pieces are liked more or less in another way to fill the rooms
SHORT_TAIL = 5000  # units (0.5 m): a shorter end of a roll is not worth setting out


@dataclass
class Plan:
    """Blocks with their rooms filled, and the small pieces that are left, some with guests in their notches."""

    blocks: list[Block]
    left: list[Shape]
    guests: dict[int, list[Lie]] = field(default_factory=dict)


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
            small = _behind(unit, small, {})
    small, groups = _grouped(small, longest, width)
    plan = _best_plan(wide, small, groups, longest, width)
    for unit in have:
        if unit.width >= width:
            plan.blocks = _onto(unit, plan.blocks)
            plan.left = _behind(unit, plan.left, plan.guests)
    units = _new_units(plan, kind)
    if kind.form == "sheet" and units and not have and len(units) > fewest(shapes, kind):
        units = cut_sheets(shapes, kind, len(units) - 1) or units
    return units


def _best_plan(
    wide: Sequence[Shape], small: Sequence[Shape], groups: dict[int, list[Lie]], longest: int, width: int
) -> Plan:
    """Arrange the wide pieces in the way that comes out shortest at a first look, and fill their rooms well."""
    best: tuple[tuple[int, int], list[Block]] | None = None
    choices = list(_arrangements(wide, small, longest, width))
    for blocks in choices if len(choices) > 1 else []:
        plan = _filled(blocks, small, groups, longest, width, 1)
        laid = strips(plan.left, plan.guests, width, longest, LOOKS)
        length = sum(b.length for b in plan.blocks) + sum(b.length for b in laid)
        if best is None or (length, len(plan.blocks)) < best[0]:
            best = (length, len(plan.blocks)), blocks
    ways = max(1, min(FILLS, FILL_WORK // max(1, len(small))))
    return _filled(best[1] if best else choices[0], small, groups, longest, width, ways)


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


def strips(
    shapes: Sequence[Shape], guests: Guests, width: int, longest: int, tries: int, rounds: int = 1
) -> list[Block]:
    """Lay small shapes in blocks of up to `longest`, the shortest of several tries."""
    if not shapes:
        return []
    region = Region(kinds_of(shapes, longest, width), width, guests)
    laid = region.shortest(longest, tries, rounds)
    return [Block(max(lie.box[2] for lie in lies), lies) for lies in laid]


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


def _grouped(small: Sequence[Shape], longest: int, width: int) -> tuple[list[Shape], dict[int, list[Lie]]]:
    """Put small pieces whose ends reach into one another together: groups count as rectangles with guests.

    Groups have numbers below 0.
    """
    out = {s.index: s for s in small}
    guests: dict[int, list[Lie]] = {}
    for n, (block, high) in enumerate(laned(small, width, longest // 2), 1):
        shapes = [lie.shape for lie in block.lies]
        for s in shapes:
            del out[s.index]
        first = min(shapes, key=lambda s: (s.cut.installed, s.cut.id))
        kerf, angles = first.kerf, first.angles
        size = ((block.length - kerf) * UNIT_M, (high - kerf) * UNIT_M)
        out[-n] = Shape(-n, first.cut, shapely.box(0.0, 0.0, *size), kerf, angles)
        guests[-n] = block.lies
    return list(out.values()), guests


def _filled(
    blocks: Sequence[Block],
    small: Sequence[Shape],
    groups: dict[int, list[Lie]],
    longest: int,
    width: int,
    ways: int,
) -> Plan:
    """Fill the free rooms of the blocks, and the notches of small pieces that go into none of them.

    Of several ways, each with other likings for the pieces, the one that lays most; blocks are cut apart again
    where nothing crosses. groups: what lies in small ones that stand for several pieces.
    """
    if not small:
        return Plan(list(blocks), [], groups)
    least = max(1, min(min(s.w, s.h) for s in small))
    rooms = [take_all([(0, 0, b.length, width)], b.solids, least) for b in blocks]
    every = [rect for room in rooms for rect in room]
    hosts = [s for s in small if (not s.full or s.index in groups) and not _goes_into(s, every)]
    loose = {s.index for s in small} - {s.index for s in hosts}
    notches = []
    for s in hosts:
        there = Block(s.w, groups[s.index]).solids if s.index in groups else s.solids_at(0, 0, 0)
        notches.append(take_all([(0, 0, s.w, s.h)], there, least))
    start = kinds_of([s for s in small if s.index in loose], longest, width)
    most = -1.0
    best: list[list[Lie]] = []
    dice = Dice()
    for n in range(ways):
        kinds = start.copy()
        if n:
            kinds.area = kinds.area * dice.near(1.0, SPREAD, len(kinds.waiting))[kinds.kind]
        laid = fill([list(room) for room in (*rooms, *notches)], kinds)
        area = math.fsum(lie.shape.poly.area for lies in laid for lie in lies)
        if area > most + UNIT_M**2:
            most, best = area, laid
        if not any(kinds.waiting):
            break
    taken = {lie.shape.index for lies in best for lie in lies}
    guests = dict(groups)
    for s, lies in zip(hosts, best[len(blocks) :], strict=True):
        if lies:
            guests[s.index] = [*groups.get(s.index, []), *lies]
    parts = []
    for b, more in zip(blocks, best, strict=False):
        parts += _apart([*b.lies, *(one for lie in more for one in with_guests(lie, guests))])
    return Plan(parts, [s for s in small if s.index not in taken], guests)


def _goes_into(shape: Shape, rooms: Sequence[Rect]) -> bool:
    sizes = {shape.size(a) for a in shape.angles}
    return any(w <= c - a and h <= d - b for w, h in sizes for a, b, c, d in rooms)


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


def _behind(unit: Unit, small: list[Shape], guests: Guests) -> list[Shape]:
    """Lay small pieces on the free end of a unit; return what is left."""
    if not small or unit.rest < SHORT_TAIL:
        return small
    able = [s for s in small if fitting(s, unit.rest, unit.width)]
    kinds = kinds_of(able, unit.rest, unit.width)
    unit.add(Region(kinds, unit.width, guests).first(unit.rest))
    laid = {s.index for s in able} - {s.index for s in kinds.left}
    return [s for s in small if s.index not in laid]


def _onto(unit: Unit, blocks: list[Block]) -> list[Block]:
    """Put the blocks on a unit that fill its rest best, early ones first; return the others."""
    blocks = sorted(blocks, key=lambda b: b.first)
    chosen = subset([b.length for b in blocks], unit.rest)
    for n in chosen:
        unit.add(blocks[n].lies)
    return [b for n, b in enumerate(blocks) if n not in chosen]


def _new_units(plan: Plan, kind: Kind) -> list[Unit]:
    """New units for blocks and small pieces: those as blocks of their own, or on the ends the others leave."""
    width, longest = kind.width + kind.kerf, kind.length - kind.trim + kind.kerf
    blocks, left, guests = plan.blocks, plan.left, plan.guests
    rounds = max(1, min(ROUNDS, WORK // max(1, len(left))))
    tries = TRIES if len(left) <= MANY else TRIES // 2
    whole = _units(_bins(blocks + strips(left, guests, width, longest, tries, rounds), kind), kind)
    if not left or not blocks:
        return whole
    ends = _units(_bins(blocks, kind), kind)
    for unit in sorted(ends, key=lambda u: -u.rest):
        left = _behind(unit, left, guests)
    ends += _units(_bins(strips(left, guests, width, longest, LOOKS), kind), kind)
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
