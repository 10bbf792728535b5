"""Heat that flows steadily through sections, layers and ground: arrays in, arrays out; it knows no house."""

from lapwright.heat.conduct import Coldest, Field, Solved, on_grid, solve
from lapwright.heat.mesh import grid, halved, lines, sized
from lapwright.heat.section import Air, Block, Section, overlaps

__all__ = [
    "Air", "Block", "Coldest", "Field", "Section", "Solved", "grid", "halved", "lines", "on_grid", "overlaps", "sized", "solve",
]  # fmt: skip
