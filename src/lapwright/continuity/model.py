"""What the drop test works on and what it says: sheets, orders, edges.

Works on any arrangement of pieces and laps, whether a house made them or somebody wrote them down.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from shapely import Polygon

Role = Literal["entry", "side", "drain"]
State = Literal["shingled", "relies_on_glue", "open", "not_seen"]

STICKS = frozenset({"adhered", "taped", "sealed"})


@dataclass(frozen=True)
class DropRules:
    """Parameters of the drop model, metres and degrees, with their source.

    climb_m: how far water gets up behind a lower edge: wind head 1.2 in (6.24 psf, the test pressure of IRC
    R703.1.1, at 0.192 in per psf) plus the climb between wettable faces 1 mm apart (15 mm / gap in mm,
    trade figure). The sum, 45 mm, stays below the 2 in (51 mm) that IRC R703.2 asks of a lap.
    creep_m: how far it creeps sideways along a lap (4 in, common practice).
    side_lap_m: side laps that pass by themselves (6 in, IRC R703.2).
    seal_past_m: how far tape must reach past an edge on both sides (1 in, common practice).
    level_deg: an edge within this of plumb is a side; else it faces up (entry) or down (drain).
    """

    climb_m: float = 0.045
    creep_m: float = 4 * 0.0254
    side_lap_m: float = 6 * 0.0254
    seal_past_m: float = 0.0254
    level_deg: float = 15.0


@dataclass(frozen=True)
class Sheet:
    """One piece on a surface's face. order: installed (time); held: what holds it; layer as in the contract.

    hides: it cannot be looked behind (kept cladding). place, step: the ids of the place whose detail made it and of the
    step that puts it on, "" when nobody says. checked: whether what it is stuck to is looked at before it is covered, as
    far as whoever wrote the arrangement down says.
    """

    id: str
    surface: str
    polygon: Polygon
    layer: str
    role: str = ""
    order: int = 0
    held: str = "adhered"
    product: str | None = None
    hides: bool = False
    facts: Mapping[str, object] = field(default_factory=dict)
    place: str = ""
    step: str = ""
    checked: bool = True


@dataclass(frozen=True)
class Over:
    """`over` lies over `under` within `polygon` of one surface; `held` is what holds it there."""

    over: str
    under: str
    surface: str
    polygon: Polygon
    held: str = "loose"
    asked_m: float = 0.0


@dataclass(frozen=True)
class Edge:
    """One stretch of a sheet's edge and what water does there.

    segment: ((x, y), (x, y)) on the surface. covered_m: how far the sheet over it reaches past it (entry: down,
    side: along), or how far what lies beneath reaches behind it; 0 when nothing does. drains_m2: area whose water
    passes here. by: the sheet that covers it or that it lies on. out: where a drop that gets behind comes out
    again ("" when it does not), trapped: behind which piece it stays; spot: where that drop was put in.
    lacks: why the tape or film over a backward lap does not count. crept: it is weak by what creeps in at it and stays inside the lap. blind: a lower edge behind another sheet with nothing beneath to run on to.
    """

    piece: str
    surface: str
    segment: tuple[tuple[float, float], tuple[float, float]]
    role: Role
    state: State
    length_m: float
    drains_m2: float
    covered_m: float = 0.0
    by: str = ""
    out: str = ""
    trapped: str = ""
    reverse: bool = False
    sealed_drain: bool = False
    lacks: str = ""
    blind: bool = False
    crept: bool = False
    spot: tuple[float, float] | None = None
