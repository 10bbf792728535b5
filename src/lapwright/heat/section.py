"""A section to solve: blocks of material and the air round them, in metres.

Sections are painted: a later block covers an earlier one where they overlap, as a screw covers the foam it runs
through. What nobody painted is nothing, and no heat crosses its border (an adiabatic cut).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Block:
    """Material from (x0, y0) to (x1, y1), metres, x0 < x1 and y0 < y1; k: conductivity, W/(m K), above 0."""

    x0: float
    y0: float
    x1: float
    y1: float
    k: float
    name: str = ""


@dataclass(frozen=True)
class Air:
    """Air from (x0, y0) to (x1, y1), metres: a temperature behind films on whatever it touches.

    name: air of one name is one environment. t_c: Celsius. films: surface resistance in m2K/W, at least 0, of
    faces that look sideways, of floors (that look up), of ceilings (that look down). A film of 0 holds the surface
    at the air's temperature.
    """

    x0: float
    y0: float
    x1: float
    y1: float
    name: str
    t_c: float
    films: tuple[float, float, float]


@dataclass(frozen=True)
class Section:
    """Blocks and air, painted in order: all blocks first, then the air.

    Raises ValueError for a block without extent or conductivity, for air of one name with two temperatures, and
    for a section without any block.

    >>> wall = Section((Block(0, 0, 0.1, 1, 0.04),), (Air(-1, 0, 0, 1, "out", -10, (0.04,) * 3),))
    >>> wall.box
    (-1, 0, 0.1, 1)
    """

    blocks: tuple[Block, ...]
    airs: tuple[Air, ...]
    box: tuple[float, float, float, float] = field(init=False)

    def __post_init__(self) -> None:
        if not self.blocks:
            raise ValueError("the section cuts through nothing: it has no block")
        for b in self.blocks:
            _extent(b, b.name or "a block")
            if not (math.isfinite(b.k) and b.k > 0):
                raise ValueError(f"{b.name or 'a block'}: the conductivity must be above 0, not {b.k}")
        temps: dict[str, float] = {}
        for a in self.airs:
            _extent(a, a.name)
            if temps.setdefault(a.name, a.t_c) != a.t_c:
                raise ValueError(f"air {a.name} has two temperatures, {temps[a.name]} and {a.t_c}")
            if min(a.films) < 0 or not all(map(math.isfinite, (*a.films, a.t_c))):
                raise ValueError(f"air {a.name}: films must be 0 or more and all figures finite")
        boxes: list[Block | Air] = [*self.blocks, *self.airs]
        box = (
            min(b.x0 for b in boxes), min(b.y0 for b in boxes), max(b.x1 for b in boxes), max(b.y1 for b in boxes)
        )  # fmt: skip
        object.__setattr__(self, "box", box)

    def at_temperatures(self, temps: dict[str, float]) -> Section:
        """Return the section with other air temperatures, by name of the air; those not named stay."""
        airs = tuple(
            Air(a.x0, a.y0, a.x1, a.y1, a.name, temps.get(a.name, a.t_c), a.films) for a in self.airs
        )
        return Section(self.blocks, airs)


def overlaps(blocks: Sequence[Block], least_m: float = 1e-6) -> list[tuple[int, int]]:
    """Return the pairs of blocks, by index, of different conductivity that lie on one another.

    least_m: overlaps narrower than this do not count. Physics takes the later one; whether that was meant only the
    caller knows.

    >>> overlaps([Block(0, 0, 2, 1, 1.0), Block(1, 0, 3, 1, 2.0), Block(2, 0, 3, 1, 2.0)])
    [(0, 1)]
    """
    out = []
    for i, a in enumerate(blocks):
        for j in range(i + 1, len(blocks)):
            b = blocks[j]
            wide, high = min(a.x1, b.x1) - max(a.x0, b.x0), min(a.y1, b.y1) - max(a.y0, b.y0)
            if wide > least_m and high > least_m and a.k != b.k:
                out.append((i, j))
    return out


def _extent(b: Block | Air, name: str) -> None:
    if not all(map(math.isfinite, (b.x0, b.y0, b.x1, b.y1))) or b.x1 <= b.x0 or b.y1 <= b.y0:
        raise ValueError(f"{name} has no extent: ({b.x0}, {b.y0}) to ({b.x1}, {b.y1})")
