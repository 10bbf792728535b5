"""`simulate`: walls under climates, many at once; what each place of the wall went through, and how good the figures are."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from lapwright.moisture.kernel import look_up
from lapwright.moisture.march import Ledger, Pace, State, advance
from lapwright.moisture.mesh import Mesh
from lapwright.moisture.pack import pack, place, start
from lapwright.moisture.vapor import Array, humidity
from lapwright.moisture.wall import Climate, Wall

Probe = tuple[int, str]
T = TypeVar("T")


@dataclass(frozen=True)
class Run:
    """What came out of `simulate`, member by member (last axis M).

    hours: (H,) hours of the records, from the start; t_C, phi: (P, H, M) at the probes; water: (L, H, M) mean water
    content of each layer, kg/m3; profile_t_C, profile_phi, profile_w: (N, M) at the end, at x_m (N, M);
    balance: (M,) |stored - crossed| over gross crossing; failed_h: (M,) hour at which a member could not be carried
    on, NaN where it was; steps, solves: work, summed over members.
    """

    probes: tuple[Probe, ...]
    hours: Array
    t_C: Array
    phi: Array
    water: Array
    x_m: Array
    profile_t_C: Array
    profile_phi: Array
    profile_w: Array
    crossed_kg_m2: Array
    balance: Array
    failed_h: Array
    meshes: tuple[Mesh, ...]
    steps: int
    solves: int

    @property
    def converged(self) -> bool:
        """Whether every member was carried to the end."""
        return bool(np.all(np.isnan(self.failed_h)))

    def at(self, layer: int, where: str) -> tuple[Array, Array]:
        """Return temperature (C) and humidity (0..1), each (H, M), at a probe."""
        k = self.probes.index((layer, where))
        return self.t_C[k], self.phi[k]


def simulate(
    walls: Wall | Sequence[Wall],
    climates: Climate | Sequence[Climate],
    *,
    hours: int | None = None,
    probes: Sequence[Probe] | None = None,
    level: float = 1.0,
    record_every: int = 1,
    pace: Pace | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Run:
    """Carry walls through hourly climates: coupled heat and moisture in one dimension, EN 15026.

    walls, climates: one, or as many as members (one serves all); hours: how long, the climates' length by default
    and repeated from their start when longer; probes: places to record, (layer index outside to inside, `outer`,
    `inner` or `middle`), all outer and inner faces by default (the cell at the face; NaN for a wall without that
    layer); level: fineness of the cells
    (`mesh.mesh`); record_every: hours between records; progress: called with (hours done, hours in all).

    Returns a `Run`. Raises ValueError in plain words for a wall or climate that cannot be (no thickness, negative
    property, gap in the weather). A member that does not converge is left at NaN from that hour on and named in
    `failed_h`: it has no verdict.

    >>> from lapwright.moisture import Climate, Layer, Material, Wall
    >>> board = Material.of("board", density=450, heat_capacity=1600, conductivity=0.12,
    ...                     sorption=[(0.5, 40), (0.8, 65), (0.95, 105), (1.0, 600)], mu_dry=120, mu_wet=40)
    >>> wool = Material.of("wool", density=20, heat_capacity=850, conductivity=0.04,
    ...                    sorption=[(0.8, 0.2), (1.0, 200)], mu_dry=1.2)
    >>> wall = Wall((Layer(board, 0.011), Layer(wool, 0.14)))
    >>> import numpy as np
    >>> winter = Climate(t_out_C=np.full(721, -5.0), p_out_Pa=np.full(721, 320.0), t_in_C=21.0, p_in_Pa=1000.0)
    >>> run = simulate(wall, winter)
    >>> bool(run.at(0, "inner")[1][-1, 0] > 0.9)  # a month of winter: the inner face of the board is wet
    True
    """
    walls = [walls] if isinstance(walls, Wall) else list(walls)
    climates = [climates] if isinstance(climates, Climate) else list(climates)
    m = max(len(walls), len(climates))
    walls, climates = _spread("walls", walls, m), _spread("climates", climates, m)
    pk, series, meshes = pack(walls, climates, level)
    span = climates[0].hours
    total = span if hours is None else hours
    wanted = tuple(probes) if probes is not None else _faces(walls)
    most = max(len(w.layers) for w in walls)
    if any(k >= most for k, _ in wanted):
        raise ValueError(f"probes: no wall has a layer {max(k for k, _ in wanted)}")
    there = np.array([[k < len(w.layers) for w in walls] for k, _ in wanted], dtype=bool).reshape(-1, m)
    spots = np.array([[place(c, k, at) if k < len(c.first) else 0 for c in meshes] for k, at in wanted], dtype=np.intp)
    spots = spots.reshape(-1, m)
    pace = pace or Pace()

    t, u = start(walls, meshes)
    w = look_up(pk, u)[0]
    first = (pk.dx * w).sum(axis=0)
    state = State(t, u, w, np.full(m, 0.1), np.full(m, np.nan))
    ledger = Ledger(np.zeros(m), np.zeros(m))
    gave_up = np.full(m, np.nan)

    marks = np.arange(record_every, total + 1, record_every)
    rec_t = np.full((len(wanted), len(marks), m), np.nan, dtype=np.float32)
    rec_phi = rec_t.copy()
    share, layers = _shares(meshes)
    rec_w = np.full((layers, len(marks), m), np.nan, dtype=np.float32)
    members = np.arange(m)
    row = 0
    for h in range(total):
        advance(pk, series.hour(h % span), state, ledger, pace)
        lost = np.isfinite(state.failed) & np.isnan(gave_up)
        gave_up[lost] = h + state.failed[lost]
        if (h + 1) % record_every == 0:
            ok = np.isnan(gave_up)
            shown = there & ok
            spot_t = state.t[spots, members]
            rec_t[:, row] = np.where(shown, spot_t, np.nan)
            rec_phi[:, row] = np.where(shown, humidity(state.u[spots, members], spot_t), np.nan)
            rec_w[:, row] = np.where(ok, np.einsum("lnm,nm->lm", share, state.w), np.nan)
            row += 1
        if progress is not None and ((h + 1) % 240 == 0 or h + 1 == total):
            progress(h + 1, total)
    stored = (pk.dx * state.w).sum(axis=0) - first
    gross = np.maximum(ledger.gross, 1e-12)
    return Run(
        wanted,
        marks.astype(float),
        rec_t,
        rec_phi,
        rec_w,
        np.array([cut.middle_m for cut in meshes]).T,
        state.t,
        humidity(state.u, state.t),
        state.w,
        ledger.net,
        np.abs(stored - ledger.net) / gross,
        gave_up,
        tuple(meshes),
        state.steps,
        state.solves,
    )


@dataclass(frozen=True)
class GridError:
    """How far the usual cells are from cells twice as fine over the same hours, the largest difference of any hour.

    water: kg/m3 per layer (means over the layer); t_K, phi: at the faces of the layers; cells: usual, fine.
    """

    water: Array
    t_K: float
    phi: float
    cells: tuple[int, int]


def grid_error(wall: Wall, climate: Climate, *, hours: int = 720, level: float = 1.0, pace: Pace | None = None) -> GridError:
    """Return the error that the cells bring in: one wall under one climate at `level` and at twice that.

    The scheme is of second order inside a material, so that the finer run is off by about a third of what is told.
    Surfaces that water reaches (rain, leaks) are the worst: try hours with rain.
    """
    one, two = (simulate(wall, climate, hours=hours, level=x, pace=pace) for x in (level, 2 * level))
    return GridError(
        np.abs(one.water - two.water).max(axis=(1, 2)),
        float(np.abs(one.t_C - two.t_C).max()),
        float(np.abs(one.phi - two.phi).max()),
        (len(one.x_m), len(two.x_m)),
    )


def _spread(label: str, things: list[T], m: int) -> list[T]:
    if len(things) not in (1, m):
        raise ValueError(f"{label}: {len(things)} given for {m} members; give one, or one for each")
    return things * m if len(things) == 1 else things


def _faces(walls: Sequence[Wall]) -> tuple[Probe, ...]:
    least = min(len(w.layers) for w in walls)
    return tuple((k, at) for k in range(least) for at in ("outer", "inner"))


def _shares(meshes: Sequence[Mesh]) -> tuple[Array, int]:
    """Return (L, N, M): weights that average a layer's cells; layers that a wall lacks weigh nothing."""
    layers = max(len(c.first) for c in meshes)
    out = np.zeros((layers, len(meshes[0].dx), len(meshes)))
    for j, cut in enumerate(meshes):
        for i, k in enumerate(cut.layer):
            out[k, i, j] = cut.dx[i]
        for k in range(len(cut.first)):
            out[k, :, j] /= out[k, :, j].sum()
    return out, layers
