"""Cells through a wall: fine at faces where water comes and goes, coarse inside, graded between."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapwright.moisture.vapor import Array
from lapwright.moisture.wall import Wall

FINE_M = 0.0010  # m, first cell at a face of a layer that takes up liquid, at level 1
PLAIN_M = 0.004  # m, first cell of other layers, at level 1
RATIO, PLAIN_RATIO = 1.9, 2.0  # of neighboring cells, at level 1
LEAST = 2  # cells in a layer
AIR_J_M3K = 5000.0  # a layer that stores less heat than this is air that mixes: one cell


@dataclass(frozen=True)
class Mesh:
    """dx: cell widths (m), outside to inside; layer: layer index per cell; first, last: cell indices per layer."""

    dx: Array
    layer: np.ndarray
    first: np.ndarray
    last: np.ndarray

    @property
    def middle_m(self) -> Array:
        """Distances of the cell middles from the outer face, m."""
        return np.cumsum(self.dx) - self.dx / 2


def graded(thickness_m: float, first_m: float, ratio: float, least: int = 1) -> Array:
    """Return cell widths (m) that grow from both faces by at most `ratio`, symmetric, summing to thickness_m.

    >>> graded(0.01, 0.001, 2.0).round(5).tolist()
    [0.00071, 0.00143, 0.00286, 0.00286, 0.00143, 0.00071]
    """
    half: list[float] = []
    width = first_m
    while sum(half) < thickness_m / 2 and len(half) < 400:
        half.append(width)
        width *= ratio
    shape = [*half, *half[::-1]]
    if len(half) > 1 and sum(half) - thickness_m / 2 > 0.5 * half[-1]:
        shape = [*half[:-1], *half[-2::-1]]  # the two middle cells would be needlessly thin: go without one pair
    while len(shape) < least:
        shape = [*shape, 1.0] if len(set(shape)) > 1 else [1.0] * least
    widths = np.asarray(shape)
    return np.asarray(widths * (thickness_m / widths.sum()))


def mesh(wall: Wall, level: float = 1.0, total: int | None = None) -> Mesh:
    """Return the cells of a wall.

    level: 1 as usual, 2 about twice as many cells everywhere (first cell over level, ratio ** (1/level)), one in air;
    total: split the widest cells in two until there are this many (walls of a batch need the same number).
    """
    if not level > 0:
        raise ValueError(f"mesh: level must be above 0, got {level!r}")
    widths: list[list[float]] = []
    for layer in wall.layers:
        if layer.material.heat < AIR_J_M3K:
            widths.append([layer.thickness_m])
            continue
        liquid = bool(layer.material.table.dflow[-1] > 0)
        first = (FINE_M if liquid else PLAIN_M) / level
        ratio = (RATIO if liquid else PLAIN_RATIO) ** (1 / level)
        widths.append(graded(layer.thickness_m, first, ratio, LEAST).tolist())
    count = sum(map(len, widths))
    if total is not None and total < count:
        raise ValueError(f"mesh: {count} cells are needed, total is {total}")
    while total is not None and count < total:
        k, i = max(((k, i) for k, row in enumerate(widths) for i in range(len(row))), key=lambda ki: widths[ki[0]][ki[1]])
        widths[k][i : i + 1] = [widths[k][i] / 2] * 2
        count += 1
    sizes = np.array([len(row) for row in widths])
    last = np.cumsum(sizes) - 1
    return Mesh(np.concatenate([np.asarray(r) for r in widths]), np.repeat(np.arange(len(sizes)), sizes), last - sizes + 1, last)
