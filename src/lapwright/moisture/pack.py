"""Many walls side by side as arrays of (cells, members): what the solver reads, taken once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lapwright.moisture.material import KNOTS, U_FREE, Material
from lapwright.moisture.mesh import Mesh, mesh
from lapwright.moisture.vapor import PRESSURE_PER_TEMPERATURE, Array
from lapwright.moisture.wall import Climate, Drip, Exchange, Layer, Membrane, Wall

Index = NDArray[np.intp]
CURVE_KNOTS = 101  # of a membrane's resistance over humidity


@dataclass(frozen=True)
class Pack:
    """Constant arrays of a batch. N cells, M members; faces 0..N, where 0 and N are the surfaces.

    Arrays whose last axis is M are per member; `tables` (8, knots of all materials) and `curves` are shared.
    """

    dx: Array  # (N, M) m
    heat: Array  # (N, M) J/(m3 K), dry
    lam: Array  # (N, M) W/(m K), dry
    lam_w: Array  # (N, M) W/(m K) per kg/m3
    lam_t: Array  # (N, M) 1/K
    base: Index  # (N, M) first knot of the cell's material
    top: Array  # (N, M) kg/m3, water content at the wet end
    hold: Array  # (N, M) kg/m3, what may be dripped in before it runs off
    flow_top: Array  # (N, M) Kirchhoff potential of the cell's material at its wet end; 0 where no liquid moves
    liquid: Array  # (N-1, M) 1/m, within one material; 0 where no liquid passes
    resist_v: Array  # (N+1, M) m2 s Pa/kg, membranes of one permeance
    resist_h: Array  # (N+1, M) m2 K/W
    bare: Index  # (B, 3) face 1..N-1, member, side 0 or 1: a side that conducts liquid where none passes the face
    joint: Index  # (J, 2) face 1..N-1 and member: liquid passes from one material into another
    curved: Index  # (C, 3) face, member, curve: membranes that depend on humidity
    vent_cell: Index  # (K, M)
    vent_inside: NDArray[np.bool_]  # (K, M) the air is house air
    vent_heat: Array  # (K, M)
    drip_cell: Index  # (D, M)
    tables: Array
    curves: Array
    members: Index  # (M,) place in the whole batch

    @property
    def shape(self) -> tuple[int, int]:
        """Cells and members."""
        n, m = self.dx.shape
        return n, m

    def take(self, cols: Index) -> Pack:
        """Return the pack of some members (sorted places within this pack)."""
        m = self.shape[1]
        if len(cols) == m:
            return self
        back = np.full(m, -1)
        back[cols] = np.arange(len(cols))
        out: dict[str, Any] = {}
        for f in fields(self):
            value = getattr(self, f.name)
            if f.name in ("tables", "curves"):
                continue
            if f.name in ("joint", "curved", "bare"):
                rows = value[back[value[:, 1]] >= 0].copy()
                rows[:, 1] = back[rows[:, 1]]
                out[f.name] = rows
            else:
                out[f.name] = np.ascontiguousarray(value[..., cols])
        return replace(self, **out)


@dataclass(frozen=True)
class Weathering:
    """Hourly series, each stored once, and which member reads which.

    series: (S, n + 1); index: name -> (M,) or (K, M).
    """

    series: Array
    index: dict[str, Index]

    def hour(self, h: int) -> dict[str, Array]:
        """Return the values through hour h; names ending in 0 and 1 are those at its two ends."""
        now, then = self.series[:, h], self.series[:, h + 1]
        out = {name: now[ix] for name, ix in self.index.items() if name not in LINES}
        for name in LINES:
            ix = self.index[name]
            out[name + "0"], out[name + "1"] = now[ix], then[ix]
        return out


LINES = ("t_out_C", "p_out_Pa", "t_in_C", "p_in_Pa", "gain_W_m2")
STEPS = ("rain", "h_out_W_m2K", "b_out", "h_in_W_m2K", "b_in")


def pack(walls: Sequence[Wall], climates: Sequence[Climate], level: float = 1.0) -> tuple[Pack, Weathering, list[Mesh]]:
    """Return the arrays of a batch: wall i under climate i, all cut into the same number of cells."""
    meshes = _meshes(walls, level)
    n, m = len(meshes[0].dx), len(walls)
    materials: dict[int, int] = {}
    kept: list[Material] = []

    def knot(material: Material) -> int:
        if id(material) not in materials:
            materials[id(material)] = len(kept)
            kept.append(material)
        return materials[id(material)] * KNOTS

    a = {name: np.zeros((n, m)) for name in ("dx", "heat", "lam", "lam_w", "lam_t", "top", "hold")}
    base = np.zeros((n, m), dtype=np.intp)
    liquid = np.zeros((n - 1, m))
    flow_top = np.zeros((n, m))
    resist = {name: np.zeros((n + 1, m)) for name in ("v", "h")}
    joint: list[tuple[int, int]] = []
    bare: list[tuple[int, int, int]] = []
    curved: list[tuple[int, int, int]] = []
    curves: list[Array] = []
    seen: dict[Membrane, int] = {}
    for j, (wall, cut) in enumerate(zip(walls, meshes, strict=True)):
        layers = [wall.layers[k] for k in cut.layer]
        a["dx"][:, j] = cut.dx
        for i, layer in enumerate(layers):
            mat = layer.material
            a["heat"][i, j], a["lam"][i, j], a["lam_w"][i, j] = mat.heat, mat.conductivity, mat.conductivity_per_water
            a["lam_t"][i, j], a["top"][i, j], base[i, j] = mat.conductivity_per_K, mat.saturation, knot(mat)
            a["hold"][i, j] = 0.95 * mat.saturation
            flow_top[i, j] = np.interp(U_FREE + 1, mat.table.u, mat.table.flow)
        groups = wall.between()
        for i in range(n - 1):
            here, there = layers[i], layers[i + 1]
            crossing = cut.layer[i] != cut.layer[i + 1]
            wet = bool(here.material.table.dflow[-1] > 0 and there.material.table.dflow[-1] > 0)
            if not wet or (crossing and (groups[cut.layer[i] + 1] or not here.liquid_contact)):
                sides = (here.material, there.material)
                bare += [(i + 1, j, k) for k in (0, 1) if sides[k].table.dflow[-1] > 0]
                continue
            if here.material is there.material:
                liquid[i, j] = 2 / (cut.dx[i] + cut.dx[i + 1])
            else:
                joint.append((i + 1, j))
        for g, group in enumerate(groups):
            face = n if g == len(wall.layers) else int(cut.first[g])
            for sheet in group:
                resist["h"][face, j] += sheet.resistance_m2K_W
                if isinstance(sheet.permeance, (int, float)):
                    resist["v"][face, j] += 1 / float(sheet.permeance)
                    continue
                if sheet not in seen:
                    seen[sheet] = len(curves)
                    curves.append(1 / np.maximum(sheet.at(np.linspace(0, 1, CURVE_KNOTS)), 1e-16))
                curved.append((face, j, seen[sheet]))
    vents = _slots([c.exchanges for c in climates])
    drips = _slots([c.drips for c in climates])
    packed = Pack(
        **a,
        base=base,
        flow_top=flow_top,
        liquid=liquid,
        resist_v=resist["v"],
        resist_h=resist["h"],
        bare=np.asarray(bare, dtype=np.intp).reshape(-1, 3),
        joint=np.asarray(joint, dtype=np.intp).reshape(-1, 2),
        curved=np.asarray(curved, dtype=np.intp).reshape(-1, 3),
        vent_cell=_cells(vents, meshes),
        vent_inside=np.array([[isinstance(x, Exchange) and x.air == "in" for x in row] for row in vents], dtype=bool).reshape(-1, m),
        vent_heat=np.array([[x.heat if isinstance(x, Exchange) else 0.0 for x in row] for row in vents]).reshape(-1, m),
        drip_cell=_cells(drips, meshes),
        tables=np.ascontiguousarray(np.concatenate([mat.table.rows() for mat in kept]).T),
        curves=np.array(curves).reshape(-1, CURVE_KNOTS),
        members=np.arange(m),
    )
    return packed, _weathering(climates, vents, drips), meshes


def _meshes(walls: Sequence[Wall], level: float) -> list[Mesh]:
    first = [mesh(w, level) for w in walls]
    most = max(len(x.dx) for x in first)
    return [x if len(x.dx) == most else mesh(w, level, most) for w, x in zip(walls, first, strict=True)]


Slot = Exchange | Drip | None


def _slots(rows: Sequence[Sequence[Exchange | Drip]]) -> list[list[Slot]]:
    """Return slots x members: the k-th source of each member, or None."""
    most = max(map(len, rows), default=0)
    return [[row[k] if k < len(row) else None for row in rows] for k in range(most)]


def _cells(slots: list[list[Slot]], meshes: Sequence[Mesh]) -> Index:
    out = np.zeros((len(slots), len(meshes)), dtype=np.intp)
    for k, row in enumerate(slots):
        for j, thing in enumerate(row):
            if thing is not None:
                out[k, j] = place(meshes[j], thing.layer, thing.at)
    return out


def place(cut: Mesh, layer: int, at: str) -> int:
    """Return the cell of a layer's outer or inner face, or its middle; raise ValueError for a layer that is not there."""
    if not 0 <= layer < len(cut.first):
        raise ValueError(f"there is no layer {layer}; the wall has {len(cut.first)}")
    first, last = int(cut.first[layer]), int(cut.last[layer])
    return {"outer": first, "inner": last, "middle": (first + last) // 2}[at]


def _weathering(climates: Sequence[Climate], vents: list[list[Slot]], drips: list[list[Slot]]) -> Weathering:
    n = len(np.atleast_1d(climates[0].t_out_C))
    for j, c in enumerate(climates):
        if c.hours + 1 != n:
            raise ValueError(f"climates of a batch must be equally long: member {j} has {c.hours} hours, the first {n - 1}")
    store: list[Array] = []
    known: dict[Any, int] = {}

    def put(values: Any) -> int:
        key: Any = id(values) if isinstance(values, np.ndarray) else float(values)
        if key not in known:
            known[key] = len(store)
            store.append(np.broadcast_to(np.asarray(values, dtype=float), (n,)))
        return known[key]

    index = {name: np.array([put(getattr(c, name)) for c in climates]) for name in (*LINES, *STEPS)}
    for name, slots in (("vents", vents), ("drips", drips)):
        ix = [[put(0.0) if x is None else put(x.rate) for x in row] for row in slots]
        index[name] = np.array(ix, dtype=np.intp).reshape(-1, len(climates))
    return Weathering(np.array(store), index)


def vapor_rate(rate: Array, pressure_Pa: float) -> Array:
    """Return kg/(s m2 Pa) that an air flow (kg/(s m2)) carries per pascal of vapor pressure difference."""
    return rate * (PRESSURE_PER_TEMPERATURE / pressure_Pa)


def start(walls: Sequence[Wall], meshes: Sequence[Mesh]) -> tuple[Array, Array]:
    """Return temperature (C) and potential of every cell at the start, (N, M)."""
    layers: list[list[Layer]] = [[w.layers[k] for k in cut.layer] for w, cut in zip(walls, meshes, strict=True)]
    t = np.array([[x.start_t_C for x in row] for row in layers], dtype=float).T
    phi = np.clip(np.array([[x.start_phi for x in row] for row in layers]).T, 1e-5, 1 - 1e-6)
    # The humidity is that at the layer's own temperature; the unknown is tied to suction.
    u = -np.log(-np.log(phi) * (t + 273.15) / 293.15)
    return np.ascontiguousarray(t), np.ascontiguousarray(u)
