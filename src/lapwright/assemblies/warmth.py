"""What an assembly holds back: its layers as resistances beside one another and in a row, standing and planned."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from lapwright.assemblies.build import FLOOR, MADE_OF, SKIPPED, THICK_M, thickness
from lapwright.catalog.model import Catalog
from lapwright.findings import Finding
from lapwright.heat.uvalue import Framed, fastener_du, framed
from lapwright.moisture.library import materials, membranes
from lapwright.scope.model import Assembly, Layer

RSI, RSE = 0.13, 0.04  # m2K/W, ISO 6946, heat through walls
RSI_FLOOR = 0.17  # m2K/W, ISO 6946, heat going down
FRAMING_SHARE = 0.25  # of an old wood-framed wall: 23 to 27 %, common practice
STUD = "softwood"
STUD_M = 0.0889  # a 2x4, where the cavity's depth is not told
PLASTER_M = 0.019
T_IN_C, T_DECLARED_C = 20.0, 10.0
# Unventilated air layers, heat going sideways: ISO 6946 (from memory), thickness in m to m2K/W.
AIR_R = ((0.0, 0.0), (0.005, 0.11), (0.007, 0.13), (0.010, 0.15), (0.015, 0.17), (0.025, 0.18))
# Screws of furring through foam, where no plan says: 16 in by 24 in, common practice; 5 mm shank of plain steel.
SCREW_PER_M2, SCREW_AREA_M2, STEEL_W_MK = 1 / (0.4064 * 0.6096), 1.96e-5, 50.0


@dataclass(frozen=True)
class Row:
    """One layer: kind and name in the job, thickness in metres (None for sheets and plain figures), conductivity of
    its cavity part at 10 C, W/(m K), its change per kelvin (a share), resistance at 10 C, m2K/W, in the cavity and
    in the framing; `counts` is false outside an open gap; `source` says where the figure is from."""

    kind: str
    name: str
    thickness_m: float | None
    k: float | None
    per_K: float
    r: float
    r_framing: float
    existing: bool
    counts: bool
    source: str

    def at(self, t_c: float) -> tuple[float, float]:
        """Return the resistances at a mean temperature, Celsius: cavity, framing (wood hardly changes)."""
        factor = max(1 + self.per_K * (t_c - T_DECLARED_C), 0.5)
        r = self.r / factor
        return r, r if self.r == self.r_framing else self.r_framing


@dataclass(frozen=True)
class Warmth:
    """A wall or floor: its rows outside to inside, films, resistances by ISO 6946 at 10 C, what fasteners add to U,
    W/(m2 K), and what had to be assumed."""

    rows: tuple[Row, ...]
    films: tuple[float, float]
    framed: Framed
    fasteners_du: float
    assumed: tuple[str, ...]
    floor: bool = False  # on the ground: heat goes down

    @property
    def u(self) -> float:
        """U with framing and fasteners, W/(m2 K)."""
        return 1 / self.framed.combined + self.fasteners_du

    def winter(self, t_out_c: float, share: float) -> float:
        """Return U when it is `t_out_c` outside: every layer at its own mean temperature (three passes settle it)."""
        rows = [r for r in self.rows if r.counts]
        rs = [(r.r, r.r_framing) for r in rows]
        for _ in range(3):
            total = sum(a for a, _ in rs) + sum(self.films)
            at, fresh = t_out_c + (T_IN_C - t_out_c) * self.films[0] / total, []
            for row, (r, _) in zip(rows, rs, strict=True):
                step = (T_IN_C - t_out_c) * r / total
                fresh.append(row.at(at + step / 2))
                at += step
            rs = fresh
        return 1 / framed(*_parts(rs, share), films=sum(self.films)).combined + self.fasteners_du


def refusals(assembly: Assembly) -> list[Finding]:
    """Return what keeps an assembly from being reckoned: layers with neither known material nor `r:`."""
    out = []
    for layer in assembly.layers:
        if layer.layer in SKIPPED or layer.layer in ("mat", "furring", "air", "cavity", "barrier", "film", "vapor"):
            continue
        if layer.r_m2K_W is None and _known(layer) is None and not _sheet(layer):
            name = layer.material or layer.product or ""
            out.append(
                Finding(
                    "heat.no_conductivity", "warn",
                    f"{assembly.id}: the {layer.layer} {name} has no known conductivity.".replace("  ", " "),
                    "Without it what this wall holds back cannot be told.",
                    "Name a material that docs/moisture.md lists, or give `r:` from its sheet.",
                    layer.where,
                )
            )  # fmt: skip
    return out


def warmth(assembly: Assembly, catalog: Catalog | None, only_existing: bool = False, share: float = FRAMING_SHARE) -> Warmth | None:
    """Return what an assembly holds back, or None when a figure is missing or nothing is left.

    only_existing: only what stays, with bays that are to be filled still empty; share: of the wall that is framing, 0 to below 1.
    """
    if refusals(assembly):
        return None
    reader = _Reader(assembly, catalog)
    rows = reader.rows(only_existing)
    if not rows:
        return None
    floor = any(x.layer in FLOOR for x in assembly.layers)
    if floor:
        films, share = (0.0, RSI_FLOOR), 0.0
    else:
        films = (RSI if reader.open_gap else RSE, RSI)
    counted = [(r.r, r.r_framing) for r in rows if r.counts]
    both = framed(*_parts(counted, share), films=sum(films))
    return Warmth(tuple(rows), films, both, _fasteners(assembly, rows, both, only_existing, reader), tuple(reader.assumed), floor)


def _parts(rows: Iterable[tuple[float, float]], share: float) -> tuple[list[list[float]], list[float]]:
    """Return layers and area shares for `framed`: one part where nothing differs."""
    listed = list(rows) or [(0.0, 0.0)]
    if share <= 0 or all(a == b for a, b in listed):
        return [[a] for a, _ in listed], [1.0]
    return [[a, b] for a, b in listed], [1 - share, share]


def _fasteners(assembly: Assembly, rows: Sequence[Row], both: Framed, only_existing: bool, reader: _Reader) -> float:
    """Return what the furring's screws through foam add to U, ISO 6946, W/(m2 K)."""
    foam = [r for r in rows if r.kind == "insulation" and not r.existing and r.thickness_m]
    if only_existing or not foam or not any(x.layer == "furring" and not x.existing for x in assembly.layers):
        return 0.0
    thick = sum(r.thickness_m or 0.0 for r in foam)
    reader.assumed.append("screws through the foam: one in 16 in by 24 in, plain steel")
    return fastener_du(SCREW_PER_M2, SCREW_AREA_M2, STEEL_W_MK, thick, thick, sum(r.r for r in foam), both.combined)


def _known(layer: Layer) -> str | None:
    for name in (layer.material, layer.product):
        if name is not None and MADE_OF.get(name, name) in materials():
            return MADE_OF.get(name, name)
    return None


def _sheet(layer: Layer) -> bool:
    """Whether a layer is a thin sheet, which holds no heat."""
    names = [MADE_OF.get(n, n) for n in (layer.material, layer.product) if n]
    return any(n in membranes() for n in names) or (layer.permeance is not None and not names)


def air_r(thickness_m: float) -> float:
    """Return the resistance of still air, m2K/W, straight between the figures of ISO 6946.

    >>> air_r(0.089), round(air_r(0.0125), 3)
    (0.18, 0.16)
    """
    import numpy as np

    return float(np.interp(thickness_m, [a for a, _ in AIR_R], [r for _, r in AIR_R]))


class _Reader:
    """Reads an assembly's layers, outside to inside, into rows."""

    def __init__(self, assembly: Assembly, catalog: Catalog | None) -> None:
        self.assembly, self.catalog = assembly, catalog
        self.assumed: list[str] = []
        self.open_gap = False

    def rows(self, only_existing: bool) -> list[Row]:
        layers = [x for x in self.assembly.layers if x.layer not in SKIPPED]
        if only_existing:  # a bay that is to be filled stands empty
            layers = [replace(x, material=None, product=None, r_m2K_W=None) if x.layer == "cavity" and not x.existing else x for x in layers]
            layers = [x for x in layers if x.existing or x.layer == "cavity"]
        open_at = [i for i, x in enumerate(layers) if x.layer in ("mat", "furring")]
        self.open_gap = bool(open_at)
        out = [self._row(x, i > max(open_at, default=-1)) for i, x in enumerate(layers)]
        floor = any(x.layer in FLOOR for x in self.assembly.layers)
        if not floor and not any(x.layer in ("cavity", "lining") for x in self.assembly.layers):
            self.assumed.append("inside it: empty 2x4 bay and 3/4 in of lime plaster (give the layers `cavity` and `lining`)")
            out += [self._cavity("cavity", "empty bay", STUD_M, None, True), self._solid("lining", "lime-plaster", PLASTER_M, True, True)]
        return [row for row in out if row is not None]

    def _row(self, layer: Layer, counts: bool) -> Row | None:
        known = _known(layer)
        if layer.layer in ("mat", "furring"):
            return None  # open to the outside: ISO 6946 counts nothing from here outwards
        if layer.layer == "cavity":
            return self._cavity("cavity", known or "empty bay", layer.thickness_m or STUD_M, layer, layer.existing)
        if layer.r_m2K_W is not None:
            name = layer.material or layer.product or layer.layer
            r = layer.r_m2K_W
            return Row(layer.layer, name, layer.thickness_m, None, 0.0, r, r, layer.existing, counts, "as the job says")
        if layer.layer == "air":
            r = air_r(layer.thickness_m or THICK_M["air"])
            return Row("air", "still air", layer.thickness_m, None, 0.0, r, r, layer.existing, counts, "ISO 6946, from memory")
        if known is None:
            return None  # a sheet
        return self._solid(layer.layer, known, thickness(layer, self.catalog, known, self.assumed), layer.existing, counts)

    def _solid(self, kind: str, known: str, thick: float, existing: bool, counts: bool) -> Row:
        found = materials()[known]
        k, per_k = found.material.conductivity, found.material.conductivity_per_K
        return Row(kind, known, thick, k, per_k, thick / k, thick / k, existing, counts, f"{found.honesty}: {found.source}")

    def _cavity(self, kind: str, name: str, thick: float, layer: Layer | None, existing: bool) -> Row:
        stud = thick / materials()[STUD].material.conductivity
        if layer is not None and layer.thickness_m is None:
            self.assumed.append("a bay 3-1/2 in deep")
        if layer is not None and layer.r_m2K_W is not None:
            return Row(kind, layer.material or "as given", thick, None, 0.0, layer.r_m2K_W, stud, existing, True, "as the job says")
        if name in materials():
            found = materials()[name]
            k = found.material.conductivity
            return Row(kind, name, thick, k, found.material.conductivity_per_K, thick / k, stud, existing, True, f"{found.honesty}: {found.source}")
        return Row(kind, name, thick, None, 0.0, air_r(thick), stud, existing, True, "still air, ISO 6946, from memory")
