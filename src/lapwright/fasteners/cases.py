"""One fastener at one spacing: how hard each way of failing is used, with every step of the sum."""

from __future__ import annotations

from dataclasses import dataclass

from lapwright.catalog.model import Product
from lapwright.fasteners.wall import GRAVITY_OF_WOOD, Loads, Wall
from lapwright.loads import lateral, withdrawal
from lapwright.loads.rows import IN, Row

TIP = 0.625  # length of a lag's tapered tip in diameters: NDS Table L2, from memory


@dataclass(frozen=True)
class Case:
    """One way of failing: its name, load and allowable per fastener in N (shares for `together`), and load by allowable."""

    words: str
    load: float
    allowable: float

    @property
    def used(self) -> float:
        """Return load by allowable; above 1 it fails."""
        return self.load / self.allowable


@dataclass(frozen=True)
class Held:
    """The cases of one fastener, the worst first in `governing`; rows: the sum step by step."""

    cases: tuple[Case, ...]
    rows: tuple[Row, ...]

    @property
    def governing(self) -> Case:
        """Return the case used hardest; ties by order."""
        return max(self.cases, key=lambda c: c.used)


def pull_per_m(product: Product) -> tuple[float, str]:
    """Return the withdrawal of a fastener per length in the wood, N/m, and its source. ValueError when figures lack."""
    kind, shank = product.word("holds_as"), product.number("shank_m")
    if shank is None:
        raise ValueError(f"{product.title}: its shank is not given")
    if kind == "lag":
        return withdrawal.lag_withdrawal(GRAVITY_OF_WOOD, shank), "NDS 12.2-1"
    if kind == "screw":
        return withdrawal.screw_withdrawal(GRAVITY_OF_WOOD, shank), "NDS 12.2-2"
    if kind in ("nail", "ring nail"):
        return withdrawal.nail_withdrawal(GRAVITY_OF_WOOD, shank, kind == "ring nail"), "NDS 12.2-3 and 12.2-5, from memory"
    raise ValueError(f"{product.title}: `holds as` is none of screw, lag, nail, ring nail")


def held(product: Product, spacing_m: float, wall: Wall, loads: Loads) -> Held:
    """Return how a fastener holds furring every `spacing_m`. Penetration: what is asked, in the stud only.

    ValueError when the catalog lacks one of its figures.
    """
    names = ("shank_m", "root_m", "head_m", "bending_yield_Pa", "penetration_m")
    lacks = [n for n in names if product.number(n) is None]
    if lacks:
        raise ValueError(f"{product.title}: not given: {', '.join(n.rsplit('_', 1)[0].replace('_', ' ') for n in lacks)}")
    shank, root, head, bending, reach = (product.needed(n) for n in names)
    area = spacing_m * wall.stud_m
    pull, weight = loads.suction_pa * area, loads.weight_pa * area
    per_m, by = pull_per_m(product)
    thread = reach - (TIP * shank if product.word("holds_as") == "lag" else 0.0)
    out = per_m * thread * withdrawal.WIND_DURATION
    through = withdrawal.head_pull_through(GRAVITY_OF_WOOD, head, wall.furring_m) * withdrawal.WIND_DURATION
    strength = lateral.bearing_pa(GRAVITY_OF_WOOD)
    dowel = lateral.Dowel(root, bending)
    yielding, mode = lateral.offset_load(dowel, strength, wall.furring_m, strength, reach, wall.foam_m)
    modes = lateral.yield_modes(dowel, strength, wall.furring_m, strength, reach, wall.foam_m)
    by_strength, weakest = min((v / lateral.reduction(root, k), k) for k, v in modes.items())
    side = by_strength * withdrawal.DEAD_DURATION
    slip = yielding / lateral.SLIP_DIVISOR
    cases = (
        Case("pulls out of the stud", pull, out),
        Case("head pulls through the strip", pull, through),
        Case("screw bends over the foam", weight, side),
        Case("slips more than 0.015 in", weight, slip),
        Case("pull and weight together", pull / out + weight / side, 1.0),
    )
    rows = (
        *loads.rows,
        Row("area of wall on one fastener", area, "m2", "spacing along the strip x spacing of the studs"),
        Row("pull of the wind on one fastener", pull, "N", "suction x area"),
        Row("weight on one fastener", weight, "N", "weight x area"),
        Row("depth in the stud, boards not counted", reach, "m", product.source("penetration_m")),
        Row("specific gravity of stud and strip", GRAVITY_OF_WOOD, "", "the least that the code's table takes"),
        Row("holding of the thread per length", per_m, "N/m", by),
        Row("thread that holds", thread, "m", "depth, less the tip of a lag"),
        Row("allowable pull out of the stud", out, "N", "x 1.6 for wind: NDS Table 2.3.2"),
        Row("allowable pull of the head through the strip", through, "N", "NDS 2018 12.2-6, from memory, x 1.6 for wind"),
        Row("bearing strength of the wood", strength, "Pa", "NDS Table 12.3.3"),
        Row("diameter that bends: root of the thread", root, "m", product.source("root_m")),
        Row("bending strength of the screw", bending, "Pa", product.source("bending_yield_Pa")),
        Row("foam that the screw spans; it gives no help in this sum", wall.foam_m, "m", "layers"),
        Row(f"load at the yield limit, mode {mode}", yielding, "N", "NDS Table 12.3.1A with the gap of AWC technical report 12"),
        Row("allowable weight by strength", side, "N", f"mode {weakest} / {lateral.reduction(root, weakest):g}: NDS Table 12.3.1B; x 0.9 for lasting load"),
        Row("allowable weight by slip of 0.015 in", slip, "N", f"/ {lateral.SLIP_DIVISOR:g}, fitted to IBC Table 2603.13.2"),
        Row("sag of a bare screw if the foam gave no help", lateral.bare_slip_m(weight, root, wall.foam_m), "m", "beam theory; for information"),
    )  # fmt: skip
    return Held(cases, rows)


def siding_nail(wall: Wall, loads: Loads, nail: Product) -> tuple[Case, float, float]:
    """Return how the siding's own nail holds in the strip: the case, what reaches into the strip, what is asked, m.

    One nail per course and strip. ValueError when its figures lack.
    """
    length, asked = nail.number("length_m"), nail.number("penetration_m")
    if length is None or asked is None or wall.cladding is None:
        raise ValueError(f"{nail.title}: length or penetration is not given")
    got = max(0.0, min(length - wall.cladding_m, wall.furring_m))
    per_m, _ = pull_per_m(nail)
    reveal = wall.cladding.number("reveal_m") or 6 * IN
    return (
        Case("siding nail pulls out of the strip", loads.suction_pa * reveal * wall.stud_m, max(per_m * got, 1e-9) * withdrawal.WIND_DURATION),
        got,
        asked,
    )  # fmt: skip
