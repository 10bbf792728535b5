"""How little any packing could draw: the bar relaxation as a linear program.

At every place along a roll the pieces there are cut across into solid bars that lie side by side. Forget that
bars of one piece hang together, and a roll is a set of patterns of bars across its width, each as long as one
likes: the least total length is a linear program (Scheithauer, Int. Trans. Opl. Res. 6, 1999, the bar
relaxation), solved by column generation with a knapsack over the width.

Made tighter by what cannot be: pieces wider than half the roll never lie side by side, so each is a *host*,
whose slices offer rooms (beside it, in its notches and holes) to the smaller pieces. A piece goes into a room
only if the room, as far as it is high enough, is long enough for the whole piece; rooms that run out at the
host's end have no such limit. Pieces that may be turned are split between both ways at will.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

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


def items_of(flats: Sequence[tuple[Polygon, Sequence[bool]]]) -> list[Item]:
    """Return items for flats with the ways they may lie (False: as drawn, True: turned 90); equal ones together."""
    counted: dict[tuple[object, ...], list[object]] = {}
    for poly, ways in flats:
        x0, y0, x1, y1 = poly.bounds
        full = poly.area > (x1 - x0) * (y1 - y0) - 1e-7
        key = (round(x1 - x0, 5), round(y1 - y0, 5), *ways) if full else (poly.wkb, *ways)
        if key in counted:
            counted[key][1] += 1  # type: ignore[operator]
            continue
        cut: list[Sections] = []
        for across in ways:
            if full:
                long, high = (y1 - y0, x1 - x0) if across else (x1 - x0, y1 - y0)
                cut.append(rectangle(long, high))
            else:
                cut.append(sections(poly, across))
        counted[key] = [tuple(cut), 1]
    return [Item(ways, count) for ways, count in counted.values()]  # type: ignore[arg-type]


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
    tip: bool


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
    meets = _meetings(hosts, ways, width_m)
    tips: dict[int, int] = {}  # host number -> its bar
    own: dict[int, int] = {}
    for k, host in enumerate(hosts):
        way = ways[host.piece]
        if host.tip and host.slice.most > THIN_M:
            tips[k] = len(program.bars)
            program.asked.append((host.count, [[(len(program.bars), host.slice.length_m)]]))
            program.bars.append(Bar(host.slice.most, _need(way), way.length_m))
    for k, host in enumerate(hosts):
        if not host.tip and any(meets[k, j] for j in range(len(hosts)) if not hosts[j].tip):
            own[k] = len(program.bars)
            program.bars.append(Bar(host.slice.most, _need(ways[host.piece]), ways[host.piece].length_m))
    _add_rooms(program, hosts, meets, tips, own, width_m)
    return program


def _need(way: Sections) -> float:
    """Height that a piece has wherever it is cut across; a point thinner than `THIN_M` counts as that."""
    return round(max(way.least_most, THIN_M), 6)


def _hosts(wide: Sequence[Item], needs: set[float], width_m: float) -> list[_Host]:
    """All slices of the wide pieces. A tip is a slice at an end that a piece of half the width could lie beside."""
    out: list[_Host] = []
    half = width_m / 2
    for n, item in enumerate(wide):
        way = item.ways[0]
        # rooms have few heights: what needs more than one of them needs at least the next
        levels = sorted({max((width_m - s.extent_m, *s.gaps)) for s in way.slices})
        runs = [way.runs(h, width_m) for h in levels] + [[0.0] * len(way.slices)]
        at = {h: runs[bisect_left(levels, h - 1e-6)] for h in (*needs, half)}
        for k, s in enumerate(way.slices):
            tip = at[half][k] == math.inf and s.extent_m <= half
            out.append(_Host(s, n, item.count, {h: at[h][k] for h in needs}, tip))
    return out


def _meetings(hosts: Sequence[_Host], ways: Sequence[Sections], width_m: float) -> NDArray[np.bool_]:
    """Which slices of wide pieces can lie beside which: each has to find room along the other."""
    owner = np.array([h.piece for h in hosts], dtype=int)
    most = np.array([h.slice.most for h in hosts])
    gap = np.array([max((width_m - h.slice.extent_m, *h.slice.gaps)) for h in hosts])
    takes = np.zeros((len(hosts), len(hosts)), dtype=bool)  # takes[s, t]: host slice s has room for slice t
    for n, way in enumerate(ways):
        columns = np.flatnonzero(owner == n)
        need, length = _need(way), way.length_m
        long = np.array([h.runs[need] for h in hosts]) >= length - 1e-6
        takes[:, columns] = long[:, None] & (gap[:, None] >= np.maximum(most[None, columns], THIN_M) - 1e-6)
    single = np.array([h.count == 1 for h in hosts], dtype=bool)
    alone = (owner[:, None] == owner[None, :]) & single[:, None]
    meets: NDArray[np.bool_] = takes & takes.T & ~alone
    return meets


def _add_rooms(
    program: Program,
    hosts: Sequence[_Host],
    meets: NDArray[np.bool_],
    tips: dict[int, int],
    own: dict[int, int],
    width_m: float,
) -> None:
    bars = program.bars
    height = np.array([b.height for b in bars])
    whole = np.array([b.whole for b in bars])
    small = np.ones(len(bars), dtype=bool)
    small[[*tips.values(), *own.values()]] = False
    least = float(height.min()) if len(bars) else math.inf
    needs = sorted({b.need for b in bars})
    which = np.array([bisect_left(needs, b.need) for b in bars], dtype=int)
    together: dict[tuple[float, bytes], Room] = {}
    for k, host in enumerate(hosts):
        if host.tip:
            continue
        rooms = []
        runs = np.array([host.runs[h] for h in needs])
        beside = small & (runs[which] >= whole - 1e-6)
        for others in (tips, own) if k in own else (tips,):
            for j, bar in others.items():
                beside[bar] = meets[k, j]
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
