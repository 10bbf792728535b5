"""Steady heat flow through a section: finite volumes on a grid, solved directly.

Cells hold one temperature each; between two cells the heat passes half of one and half of the other in a row, at
air its half cell and the film. That balance is exact where heat runs straight, conserves heat cell by cell on any
grid, and needs no care where metal meets foam.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.linalg
import scipy.sparse as sp
import scipy.sparse.linalg as sla
from numpy.typing import NDArray

from lapwright.heat.mesh import halved, sized
from lapwright.heat.section import Section

Array = NDArray[np.float64]
BAND = 140  # up to so many cells across, LAPACK's banded Cholesky beats SuperLU (measured)


@dataclass(frozen=True)
class Coldest:
    """The coldest or warmest place of the surface to one air: temperature in Celsius, place in metres."""

    t_c: float
    x: float
    y: float


@dataclass(frozen=True)
class Field:
    """A solved section.

    xs, ys: grid lines, metres, (nx+1,) and (ny+1,); t_c: temperatures of the cells, Celsius, (ny, nx), nan where
    nothing or air is; k: their conductivity, W/(m K); faces: temperatures of their left, right, lower and upper
    faces, Celsius, (4, ny, nx); flows: W per metre of depth from each air into the section, by name (they add up to 0);
    lowest, highest: extremes of the surface to each air.
    """

    xs: Array
    ys: Array
    t_c: Array
    k: Array
    faces: Array
    flows: dict[str, float]
    lowest: dict[str, Coldest]
    highest: dict[str, Coldest]

    def at(self, x: float, y: float) -> float:
        """Return the temperature at a point in metres, Celsius; nan outside the material.

        Within a cell the temperature runs straight from the center to each face, by the heat through that face; where
        cells meet at the point each counts by its conductivity, since a good conductor hardly changes within a cell.
        """
        rows = [
            (self.k[j, i], self._within(j, i, x, y))
            for j in _holding(self.ys, y)
            for i in _holding(self.xs, x)
            if not np.isnan(self.t_c[j, i])
        ]
        weight = sum(k for k, _ in rows)
        return float(sum(k * t for k, t in rows) / weight) if rows else float("nan")

    def _within(self, j: int, i: int, x: float, y: float) -> float:
        left, right, down, up = self.faces[:, j, i]
        middle = self.t_c[j, i]
        u = (x - self.xs[i]) / (self.xs[i + 1] - self.xs[i]) * 2 - 1  # -1 at the left face, 1 at the right
        v = (y - self.ys[j]) / (self.ys[j + 1] - self.ys[j]) * 2 - 1
        along = (right - middle) * u if u > 0 else (middle - left) * u
        return float(middle + along + ((up - middle) * v if v > 0 else (middle - down) * v))


def _holding(lines: Array, at: float) -> list[int]:
    """Return the cells between `lines` that hold a coordinate: two on a line, none outside."""
    near = 1e-9 * max(float(lines[-1] - lines[0]), 1.0)
    first = int(np.searchsorted(lines, at - near)) - 1
    last = int(np.searchsorted(lines, at + near, side="right")) - 1
    return [n for n in range(first, last + 1) if 0 <= n < len(lines) - 1]


@dataclass(frozen=True)
class Solved:
    """A field, and what the grid costs.

    flows: W per metre of depth from each air into the section, extrapolated from two grids to none; field: on the
    finer grid; error: estimated share of the greatest flow by which the finer grid errs; t_error: by how many kelvin
    the extremes of the surfaces moved from the coarser grid to the finer; cells: of the finer grid.
    """

    flows: dict[str, float]
    field: Field
    error: float
    t_error: float
    cells: int


def solve(section: Section, cells: int = 50_000, error: float = 0.01) -> Solved:
    """Solve a section on grids that grow until the estimated error of the flow is below `error`, or `cells` are used.

    Each grid is solved with every second line left out too. Where heat bends round a corner the flow converges at
    between first and second order of the cell: extrapolated as second order it still errs on the side of the finer
    grid, by no more than the finer grid does (Richardson). Whether the error came below what was asked is for the
    caller to say.
    """
    size = min(2_000, cells)
    while True:
        xs, ys = sized(section, max(size // 4, 1))
        coarse = on_grid(section, xs, ys)
        fine = on_grid(section, halved(xs), halved(ys))
        flows = {n: f + (f - coarse.flows[n]) / 3 for n, f in fine.flows.items()}
        most = max(abs(f) for f in flows.values())
        # twice the second-order share covers convergence of order 1.3 and better
        off = max(abs(fine.flows[n] - coarse.flows[n]) * 2 / 3 for n in flows)
        estimate = off / most if most > 0 else 0.0
        if estimate <= error or size >= cells:
            ends = ((fine.lowest, coarse.lowest), (fine.highest, coarse.highest))
            moved = max(abs(f[n].t_c - c[n].t_c) for f, c in ends for n in f)
            return Solved(flows, fine, estimate, moved, fine.t_c.size)
        size = min(size * 4, cells)


def on_grid(section: Section, xs: Array, ys: Array) -> Field:
    """Solve a section on given grid lines, metres, rising. Raises ValueError when no material touches any air."""
    painted = _Painted(section, xs, ys)
    temps = painted.solve()
    return painted.field(temps)


class _Painted:
    """A section on a grid: conductivity and air of each cell, and the conductances between."""

    def __init__(self, section: Section, xs: Array, ys: Array) -> None:
        self.section, self.xs, self.ys = section, xs, ys
        self.dx, self.dy = np.diff(xs), np.diff(ys)
        cx, cy = (xs[1:] + xs[:-1]) / 2, (ys[1:] + ys[:-1]) / 2
        self.k = np.zeros((len(cy), len(cx)))
        self.air = np.full((len(cy), len(cx)), -1)
        for b in section.blocks:
            self.k[_span(cy, b.y0, b.y1), _span(cx, b.x0, b.x1)] = b.k
        for n, a in enumerate(section.airs):
            part = (_span(cy, a.y0, a.y1), _span(cx, a.x0, a.x1))
            self.air[part] = n
            self.k[part] = 0.0
        self._between()
        self._films()

    def _between(self) -> None:
        """Conductances between neighbors, W/(m K); 0 to air and to nothing."""
        with np.errstate(divide="ignore"):
            rx = self.dx[None, :] / (2 * self.k)  # half a cell, m2K/W
            ry = self.dy[:, None] / (2 * self.k)
        self.half_x, self.half_y = rx, ry
        self.gx = self.dy[:, None] / (rx[:, 1:] + rx[:, :-1])
        self.gy = self.dx[None, :] / (ry[1:] + ry[:-1])

    def _films(self) -> None:
        """Conductance of each cell to each air that it touches: lists of (side, cells, air number, g, resistance)."""
        films = np.array([a.films for a in self.section.airs]).reshape(-1, 3)
        solid = self.k > 0
        self.touch: list[tuple[str, NDArray[np.int64], NDArray[np.int64], Array, Array]] = []
        sides = (("left", 0, -1, 0), ("right", 0, 1, 0), ("down", -1, 0, 2), ("up", 1, 0, 1))
        n, cells = self.k.size, np.arange(self.k.size).reshape(self.k.shape)
        assert n
        for side, dj, di, film in sides:
            mine, its = _pair(solid, dj, di), _pair(self.air, -dj, -di)
            met = mine & (its >= 0)
            if not met.any():
                continue
            at, which = _pair(cells, dj, di)[met], its[met]
            half = (self.half_x if dj == 0 else self.half_y).ravel()[at]
            face = self.dy[at // self.k.shape[1]] if dj == 0 else self.dx[at % self.k.shape[1]]
            r_film = films[which, film]
            self.touch.append((side, at, which, face / (half + r_film), r_film / face))

    def solve(self) -> Array:
        """Return the temperatures of all cells, nan where no material is or no air is reached."""
        ny, nx = self.k.shape
        if not self.touch:
            raise ValueError("no material of the section touches any air")
        total = np.zeros(ny * nx)
        gain = np.zeros(ny * nx)
        t_air = np.array([a.t_c for a in self.section.airs])
        for _, at, which, g, _ in self.touch:
            np.add.at(total, at, g)
            np.add.at(gain, at, g * t_air[which])
        reached = self._reached(total > 0)
        d = total.reshape(ny, nx).copy()
        d[:, 1:] += self.gx
        d[:, :-1] += self.gx
        d[1:] += self.gy
        d[:-1] += self.gy
        idle = ~reached  # such cells are tied to themselves: 1 x T = 0
        gx = np.where(idle[:, 1:] | idle[:, :-1], 0.0, self.gx)
        gy = np.where(idle[1:] | idle[:-1], 0.0, self.gy)
        d[idle] = 1.0
        temps = _banded(d, gx, gy, gain) if min(nx, ny) <= BAND else _sparse(d, gx, gy, gain)
        temps[idle.ravel()] = np.nan
        return temps.reshape(ny, nx)

    def _reached(self, touching: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Return which solid cells are joined, through material, to one that touches air."""
        ny, nx = self.k.shape
        cells = np.arange(ny * nx).reshape(ny, nx)
        row = np.concatenate([cells[:, 1:][self.gx > 0], cells[1:][self.gy > 0]])
        col = np.concatenate([cells[:, :-1][self.gx > 0], cells[:-1][self.gy > 0]])
        joined = sp.coo_matrix((np.ones(len(row)), (row, col)), shape=(ny * nx, ny * nx))
        _, label = sp.csgraph.connected_components(joined, directed=False)
        good = np.isin(label, np.unique(label[touching])) & (self.k.ravel() > 0)
        return np.asarray(good.reshape(ny, nx))

    def field(self, temps: Array) -> Field:
        """Return the solved field with flows and surfaces."""
        flows = {a.name: 0.0 for a in self.section.airs}
        ends: dict[str, list[tuple[float, float, float]]] = {}
        flat, nx = temps.ravel(), self.k.shape[1]
        names = [a.name for a in self.section.airs]
        t_air = np.array([a.t_c for a in self.section.airs])
        for side, at, which, g, r in self.touch:
            flow = g * (t_air[which] - flat[at])
            surface = t_air[which] - flow * r
            j, i = at // nx, at % nx
            x = {"left": self.xs[i], "right": self.xs[i + 1]}.get(side, (self.xs[i] + self.xs[i + 1]) / 2)
            y = {"down": self.ys[j], "up": self.ys[j + 1]}.get(side, (self.ys[j] + self.ys[j + 1]) / 2)
            for n, name in enumerate(names):
                mine = which == n
                if not mine.any():
                    continue
                flows[name] += float(flow[mine].sum())
                low, high = int(np.argmin(surface[mine])), int(np.argmax(surface[mine]))
                for p in (low, high):
                    row = (float(surface[mine][p]), float(x[mine][p]), float(y[mine][p]))
                    ends.setdefault(name, []).append(row)
        lowest = {n: Coldest(*min(rows)) for n, rows in ends.items()}
        highest = {n: Coldest(*max(rows)) for n, rows in ends.items()}
        return Field(self.xs, self.ys, temps, self.k, self._faces(temps), flows, lowest, highest)

    def _faces(self, temps: Array) -> Array:
        """Return the temperatures of the cells' faces (see `Field`); a face without heat has its cell's."""
        faces = np.stack([temps] * 4)
        with np.errstate(invalid="ignore"):
            flow = self.gx * (temps[:, :-1] - temps[:, 1:])  # W/m to the right
            drop = flow / self.dy[:, None]
            faces[1][:, :-1] = np.where(self.gx > 0, temps[:, :-1] - drop * self.half_x[:, :-1], faces[1][:, :-1])
            faces[0][:, 1:] = np.where(self.gx > 0, temps[:, 1:] + drop * self.half_x[:, 1:], faces[0][:, 1:])
            drop = self.gy * (temps[:-1] - temps[1:]) / self.dx[None, :]
            faces[3][:-1] = np.where(self.gy > 0, temps[:-1] - drop * self.half_y[:-1], faces[3][:-1])
            faces[2][1:] = np.where(self.gy > 0, temps[1:] + drop * self.half_y[1:], faces[2][1:])
        t_air = np.array([a.t_c for a in self.section.airs])
        for side, at, which, g, r in self.touch:
            row = faces[("left", "right", "down", "up").index(side)].reshape(-1)
            row[at] = t_air[which] - g * (t_air[which] - temps.ravel()[at]) * r
        return faces


def _span(centers: Array, a: float, b: float) -> slice:
    return slice(int(np.searchsorted(centers, a)), int(np.searchsorted(centers, b)))


def _pair(a: NDArray, dj: int, di: int) -> NDArray:  # type: ignore[type-arg]
    """Return the part of an array whose neighbor at (dj, di) is on the grid."""
    ny, nx = a.shape
    return a[max(0, -dj) : ny - max(0, dj), max(0, -di) : nx - max(0, di)]


def _banded(d: Array, gx: Array, gy: Array, gain: Array) -> Array:
    """Solve with LAPACK's banded Cholesky, the shorter way of the grid within the band."""
    if d.shape[1] > d.shape[0]:
        turned = _banded(np.ascontiguousarray(d.T), gy.T, gx.T, gain.reshape(d.shape).T.ravel())
        return np.asarray(turned.reshape(d.shape[1], d.shape[0]).T.ravel())
    ny, nx = d.shape
    bands = np.zeros((nx + 1, ny * nx))
    bands[0] = d.ravel()
    beside = np.zeros((ny, nx))
    beside[:, :-1] = -gx
    bands[1] = beside.ravel()  # of a grid one cell wide the next line takes this place
    over = np.zeros((ny, nx))
    over[:-1] = -gy
    bands[nx] = over.ravel() if nx > 1 else bands[1] + over.ravel()
    out = scipy.linalg.solveh_banded(bands, gain, lower=True, overwrite_ab=True, check_finite=False)
    return np.asarray(out)


def _sparse(d: Array, gx: Array, gy: Array, gain: Array) -> Array:
    """Solve with SuperLU, ordered for a symmetric pattern."""
    ny, nx = d.shape
    cells = np.arange(ny * nx).reshape(ny, nx)
    i = np.concatenate([cells[:, 1:].ravel(), cells[1:].ravel()])
    j = np.concatenate([cells[:, :-1].ravel(), cells[:-1].ravel()])
    v = -np.concatenate([gx.ravel(), gy.ravel()])
    every = cells.ravel()
    matrix = sp.csc_matrix(
        (np.concatenate([v, v, d.ravel()]), (np.concatenate([i, j, every]), np.concatenate([j, i, every]))),
        shape=(ny * nx, ny * nx),
    )
    lu = sla.splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    return np.asarray(lu.solve(gain))
