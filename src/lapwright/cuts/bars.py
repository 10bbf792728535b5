"""How little any packing could draw: the bar relaxation as a linear program.

At every place along a roll the pieces there are cut across into solid bars that lie side by side. Forget that
bars of one piece hang together, and a roll is a set of patterns of bars across its width, each as long as one
likes: the least total length is a linear program (Scheithauer, Int. Trans. Opl. Res. 6, 1999, the bar
relaxation), solved by column generation with a knapsack over the width.

Made tighter by what cannot be: pieces wider than half the roll never lie side by side, so each is a *host*,
whose slices offer rooms (beside it, in its notches and holes) to the smaller pieces. A piece goes into a room
only if the room, as far as it is high enough, is long enough for the whole piece; rooms that run out at the
host's end have no such limit. Pieces that may be turned are split between both ways at will.

One more thing that cannot be: an end of a wide piece lies beside one other wide piece only, which limits how much
length the wide pieces save together (`mating`).
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from lapwright.cuts.mating import meetings
from lapwright.cuts.sections import Sections, Slice, rectangle, sections

THIN_M = 1e-3  # parts thinner than this are no material


@dataclass(frozen=True)
class Item:
    """One flat and the ways it may lie: slices along the roll for each way, and how many there are of it."""

    ways: tuple[Sections, ...]
    count: int = 1


@dataclass
class Bar:
    """Solid part of a slice. need: height that the piece has wherever it is cut across; whole: its length.

    beside: how many solid parts that slice has, this one counted.
    """

    height: float
    need: float
    whole: float
    beside: int = 1


@dataclass
class Room:
    """Place for bars beside or inside a host slice, `length` of it in all; allowed: the bars that can be there."""

    height: float
    allowed: NDArray[np.bool_]
    length: float = 0.0


@dataclass
class Program:
    """What the linear program is made from."""

    fixed: float  # length of the slices that no other wide piece can lie beside
    bars: list[Bar] = field(default_factory=list)
    asked: list[tuple[int, list[list[tuple[int, float]]]]] = field(default_factory=list)
    rooms: list[Room] = field(default_factory=list)
    open: list[tuple[float, int, list[Room]]] = field(default_factory=list)  # length, own bar, rooms
    saved: float = math.inf  # how much of the open slices can lie beside one another


def items_of(flats: Sequence[tuple[Polygon, Sequence[bool]]]) -> list[Item]:
    """Return items for flats with the ways they may lie (False: as drawn, True: turned 90); equal ones together.

    Holes that no flat would go into count as filled.
    """
    sizes = [(x1 - x0, y1 - y0) for x0, y0, x1, y1 in (poly.bounds for poly, _ in flats)]
    short, long = np.array([[min(s), max(s)] for s in sizes] or [[0.0, 0.0]]).T
    counted: dict[tuple[object, ...], list[object]] = {}
    for (poly, ways), (w, h) in zip(flats, sizes, strict=True):
        if poly.interiors:
            poly = _filled(poly, short, long)
        full = poly.area > w * h - 1e-7
        key = (round(w, 5), round(h, 5), *ways) if full else (poly.wkb, *ways)
        if key in counted:
            counted[key][1] += 1  # type: ignore[operator]
            continue
        if full:
            counted[key] = [tuple(rectangle(h, w) if turned else rectangle(w, h) for turned in ways), 1]
        else:
            counted[key] = [tuple(sections(poly, turned) for turned in ways), 1]
    return [Item(*row) for row in counted.values()]  # type: ignore[arg-type]


def _filled(poly: Polygon, short: NDArray[np.float64], long: NDArray[np.float64]) -> Polygon:
    """Return the flat without the holes whose bounding box is too small for every flat."""
    kept = []
    for ring in poly.interiors:
        x0, y0, x1, y1 = ring.bounds
        a, b = sorted((x1 - x0, y1 - y0))
        if ((short <= a + 1e-6) & (long <= b + 1e-6)).any():
            kept.append(ring)
    return Polygon(poly.exterior, kept) if len(kept) < len(poly.interiors) else poly


def program_of(items: Sequence[Item], width_m: float) -> Program:
    """Sort items into wide and small ones and write down what the linear program is made from."""
    wide = [i for i in items if len(i.ways) == 1 and _extent(i.ways[0]) > width_m / 2 + 1e-6]
    small = [i for i in items if len(i.ways) > 1 or _extent(i.ways[0]) <= width_m / 2 + 1e-6]
    return _program(wide, small, width_m)


def _extent(way: Sections) -> float:
    return max(s.extent_m for s in way.slices)


@dataclass
class _Host:
    """A slice of a wide piece: its number, the piece's, and how long its rooms run for what needs some height."""

    slice: Slice
    piece: int
    count: int
    runs: dict[float, float]


def _program(wide: Sequence[Item], small: Sequence[Item], width_m: float) -> Program:
    program = Program(0.0)
    for item in small:
        choices: list[list[tuple[int, float]]] = []
        for way in item.ways:
            choices.append([])
            for s in way.slices:
                solid = [height for height in s.solid if height > THIN_M]
                for height in solid:
                    program.bars.append(Bar(height, _need(way), way.length_m, len(solid)))
                    choices[-1].append((len(program.bars) - 1, s.length_m))
        program.asked.append((item.count, choices))
    ways = [i.ways[0] for i in wide]
    hosts = _hosts(wide, {*(b.need for b in program.bars), *map(_need, ways)}, width_m)
    meets, program.saved = meetings([(i.ways[0], i.count) for i in wide], width_m)
    if program.saved < THIN_M:
        program.fixed -= program.saved
        meets[:] = False
    own: dict[int, int] = {}
    for k, host in enumerate(hosts):
        if meets[k].any():
            own[k] = len(program.bars)
            program.bars.append(Bar(host.slice.most, _need(ways[host.piece]), ways[host.piece].length_m))
    _add_rooms(program, hosts, meets, own, width_m)
    return program


def _need(way: Sections) -> float:
    """Height that a piece has wherever it is cut across; a point thinner than `THIN_M` counts as that."""
    return round(max(way.least_most, THIN_M), 6)


def _hosts(wide: Sequence[Item], needs: set[float], width_m: float) -> list[_Host]:
    """All slices of the wide pieces."""
    out: list[_Host] = []
    for n, item in enumerate(wide):
        way = item.ways[0]
        # rooms have few heights: what needs more than one of them needs at least the next
        levels = sorted({max((width_m - s.extent_m, *s.gaps)) for s in way.slices})
        runs = [way.runs(h, width_m) for h in levels] + [[0.0] * len(way.slices)]
        at = {h: runs[bisect_left(levels, h - 1e-6)] for h in needs}
        for k, s in enumerate(way.slices):
            out.append(_Host(s, n, item.count, {h: at[h][k] for h in needs}))
    return out


def _add_rooms(
    program: Program, hosts: Sequence[_Host], meets: NDArray[np.bool_], own: dict[int, int], width_m: float
) -> None:
    bars = program.bars
    height = np.array([b.height for b in bars])
    whole = np.array([b.whole for b in bars])
    small = np.ones(len(bars), dtype=bool)
    small[[*own.values()]] = False
    least = float(height.min()) if len(bars) else math.inf
    needs = sorted({b.need for b in bars})
    which = np.array([bisect_left(needs, b.need) for b in bars], dtype=int)
    together: dict[tuple[float, bytes], Room] = {}
    for k, host in enumerate(hosts):
        rooms = []
        runs = np.array([host.runs[h] for h in needs])
        beside = small & (runs[which] >= whole - 1e-6)
        if k in own:
            # of slices that lie side by side the highest is the host: no strip gets past it that does not fit it
            rank = (host.slice.most, k)
            for j, bar in own.items():
                beside[bar] = meets[k, j] and (hosts[j].slice.most, j) <= rank
        for gap in (width_m - host.slice.extent_m, *host.slice.gaps):
            if gap >= least - 1e-6:
                fits = (height <= gap + 1e-6) & beside
                if fits.any():
                    rooms.append(Room(gap, fits))
        length = host.slice.length_m * host.count
        if k in own:
            program.open.append((length, own[k], rooms))
        else:
            program.fixed += length
            for room in rooms:
                same = together.setdefault((round(room.height, 4), room.allowed.tobytes()), room)
                same.length += length
    program.rooms += together.values()
