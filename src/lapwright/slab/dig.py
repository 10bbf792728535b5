"""How deep one may dig beside a wall: the wedge of soil that carries its foot.

The load of a wall spreads into the soil below its foot. Soil above a line that falls away from the inner
bottom edge of the foot carries it; dig that out and the foot loses its seat.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

# Run for one of rise. 1:1 is the best case, 1.5 to 2:1 in sand or wet soil (common practice, no source); unknown soil
# is taken as the worst.
RUN = {"clay": 1.0, "silt": 1.5, "gravel": 1.5, "sand": 2.0}
WORST_RUN = 2.0
WEAK_WALLS = frozenset({"stone", "block", "brick"})


@dataclass(frozen=True)
class Dig:
    """What a dig does to the foot of the wall.

    bench_m: how far from the wall's inner face the dig must stay at full depth, 0 when it may go up to it;
    reasons: why an engineer has to look before anyone digs.
    """

    bench_m: float
    run: float
    reasons: tuple[str, ...]


def dig(
    depth_m: float,
    foot_m: float | None,
    *,
    footing: bool | None,
    wall: str = "",
    soil: str = "",
    bowed: bool | None = None,
    wet: bool | None = None,
) -> Dig:
    """Judge a dig of `depth_m` below the old floor beside a wall whose inner bottom lies `foot_m` below it.

    footing: whether the wall stands on one (without: the inner bottom of the stones counts); soil: clay, silt, sand,
    gravel or "". Both depths >= 0, metres. Raises ValueError for a negative depth.
    """
    if depth_m < 0 or (foot_m is not None and foot_m < 0):
        raise ValueError("depths are counted downwards from the old floor")
    run = max(RUN.get(soil, WORST_RUN), WORST_RUN if wet or wet is None else 0.0)
    reasons = []
    if foot_m is None:
        reasons.append("nobody has seen how deep the foot of the wall goes: dig a test pit first")
        bench = math.inf if depth_m > 0 else 0.0
    else:
        bench = max(0.0, depth_m - foot_m) * run
        if bench > 0:
            reasons.append("the dig goes below the foot of the wall")
    if depth_m > 0:
        if bowed:
            reasons.append("the wall is bowed: the old slab may be what holds its foot")
        if wall in WEAK_WALLS:
            reasons.append(f"the wall is {wall}: it has no strength of its own against the soil")
        if wet:
            reasons.append("wet soil stands behind the wall")
        if footing is False and wall == "concrete":
            reasons.append("the wall has no footing")
    return Dig(bench, run, tuple(reasons))
