"""What a detail asks of sheets: boards and panels laid in rows over an area of one surface."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from shapely import Polygon

IN = 0.0254
Lay = Literal["lying", "standing", "either"]


@dataclass(frozen=True)
class SheetClaim:
    """A region to be covered with sheets of one product, row by row. All lengths in metres.

    region: on `surface`, with what the sheets are cut round taken out of it (openings, pipes); corners: those of
    openings, which no joint may be in line with (see off_m). lay: long side along the rows' x (lying), upright
    (standing), or whichever takes fewer sheets.
    gap_m: open joint between sheets (0 for foam); stagger_m: joints of neighboring rows at least this far apart;
    off_m: joints at least this far beside the corner of an opening; sliver_m: narrowest piece wanted, both ways.
    supports: the only x (standing and lying) where an upright joint may fall, or None for anywhere.
    above: key of the SheetClaim of the layer underneath, from whose joints these stay `layer_off_m` away (with those whose
    keys go on with a dash: parts of the same layer).
    tape: product for the seams, or None. snug: things the sheets are cut tight round, as (id, center x, y, width,
    height), so that the holes can be dimensioned from the sheet's own edges.
    """

    key: str
    place: str
    role: str
    layer: str
    product: str
    surface: str
    region: Polygon
    step: str
    phase: int
    corners: tuple[tuple[float, float], ...] = ()
    lay: Lay = "lying"
    gap_m: float = 0.0
    stagger_m: float = 12 * IN
    off_m: float = 4 * IN
    sliver_m: float = 6 * IN
    supports: tuple[float, ...] | None = None
    above: str | None = None
    layer_off_m: float = 6 * IN
    tape: str | None = None
    tape_step: str = ""
    snug: tuple[tuple[str, float, float, float, float], ...] = ()
    rank: int = 0
    held: str = "fastened"
    facts: Mapping[str, Any] = field(default_factory=dict)
