"""Which screw: candidates from the catalog, the code's table and the sum side by side, and what has to be said."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from lapwright.catalog.model import Catalog, Product
from lapwright.fasteners.cases import Case, Held, held, siding_nail
from lapwright.fasteners.table import Answer, answer
from lapwright.fasteners.wall import Loads, Wall
from lapwright.findings import Finding, Where
from lapwright.loads.rows import IN, Row

SPACINGS = (24 * IN, 16 * IN, 12 * IN)  # along the strip: the code's table; nails 16, 12 and 8
NAIL_SPACINGS = (16 * IN, 12 * IN, 8 * IN)
END_M = 3 * IN  # first and last screw from the end of a strip, so that it does not split: common practice
KINDS = ("screw", "lag", "nail")
NO_BRACE = "Foam braces nothing"


@dataclass(frozen=True)
class Design:
    """The screw chosen for one wall, or the nearest miss. `holds`: by our sum; `tabled`: by the code's table.

    length_m: of the screw; reach_m: what reaches into the stud.
    """

    wall: Wall
    loads: Loads
    product: Product | None
    spacing_m: float
    length_m: float
    reach_m: float
    held: Held | None
    table: Answer
    siding: Case | None
    tried: tuple[str, ...]

    @property
    def holds(self) -> bool:
        """Return whether no case is used beyond its allowable."""
        return self.held is not None and self.held.governing.used <= 1.0 + 1e-9

    @property
    def tabled(self) -> bool:
        """Return whether the code's table covers it."""
        return self.table.thickest_m is not None and 0 < self.wall.foam_m <= self.table.thickest_m + 1e-6

    @property
    def rows(self) -> tuple[Row, ...]:
        """Return the sum step by step."""
        return self.held.rows if self.held else self.loads.rows

    def count(self, length_m: float) -> int:
        """Return how many fasteners a strip of that length takes: near both ends, and no further apart than the spacing."""
        inner = length_m - 2 * END_M
        return 2 if inner <= 0 else math.ceil(inner / self.spacing_m - 1e-9) + 1


def _candidates(catalog: Catalog, wall: Wall) -> Iterable[tuple[tuple[str, float], list[Product]]]:
    """Yield the sizes of fastener for furring, thin ones first, each with its lengths, short ones first."""
    own = [p for p in catalog.products.values() if p.layer == "fastener" and p.word("holds_as") in KINDS]
    if wall.named is not None:
        own = [p for p in own if p.id == wall.named]
    else:
        own = [p for p in own if p.word("holds_as") != "nail"]  # nails only when the job names them
    sizes: dict[tuple[str, float], list[Product]] = {}
    for p in own:
        sizes.setdefault((p.word("holds_as"), round(p.number("shank_m") or 0.0, 7)), []).append(p)
    for key in sorted(sizes, key=lambda k: (k[1], k[0])):
        yield key, sorted(sizes[key], key=lambda p: (p.number("length_m") or 0.0, p.id))


def design(wall: Wall, loads: Loads, catalog: Catalog) -> Design:
    """Return the fastener for a wall: within table and sum, at the widest spacing, if any is; else the thinnest that holds by
    the sum alone; else the one that misses least."""
    found: list[tuple[tuple[int, float, float], Design]] = []
    tried: list[str] = []
    for (kind, shank), lengths in _candidates(catalog, wall):
        title = lengths[0].title
        need = wall.through_m + (lengths[0].number("penetration_m") or 0.0)
        fits = [p for p in lengths if (p.number("length_m") or 0.0) >= need - 1e-6]
        if not fits:
            tried.append(f"{lengths[-1].title}: {need / IN:.2f} in is needed")
            continue
        product = fits[0]
        for spacing in NAIL_SPACINGS if kind == "nail" else SPACINGS:
            try:
                sum_ = held(product, spacing, wall, loads)
            except ValueError as why:
                tried.append(str(why))
                break
            told = answer(product, spacing, wall.stud_m, loads.weight_pa)
            length = product.needed("length_m")
            one = Design(wall, loads, product, spacing, length, length - wall.through_m, sum_, told, None, ())
            if not one.holds:
                tried.append(f"{title} every {spacing / IN:g} in: {sum_.governing.words}, {sum_.governing.used:.0%} used")
            rank = 0 if one.holds and one.tabled else 1 if one.holds else 2
            # within the table the fewest screws; beyond it the thinnest, then the fewest; failing, the least overdrawn
            order = ((-spacing, shank), (shank, -spacing), (sum_.governing.used, shank))[rank]
            found.append(((rank, *order), one))
    siding = _siding(wall, loads, catalog)
    if not found:
        return Design(wall, loads, None, 0.0, 0.0, 0.0, None, Answer(None, "nothing to look up"), siding, tuple(tried))
    best = min(found, key=lambda f: (f[0], f[1].product.id if f[1].product else ""))[1]
    return Design(**{**best.__dict__, "siding": siding, "tried": tuple(tried)})


def _siding(wall: Wall, loads: Loads, catalog: Catalog) -> Case | None:
    nail = catalog.products.get(wall.cladding.word("fastener")) if wall.cladding else None
    try:
        return siding_nail(wall, loads, nail)[0] if nail else None
    except ValueError:
        return None


def findings(made: Design, catalog: Catalog, where: Where, on: str) -> list[Finding]:
    """Return what has to be said about furring through foam on a wall. on: its name in words."""
    out = []
    wall = made.wall
    if wall.sheathing_m is None:
        out.append(
            Finding(
                "fasteners.no_sheathing", "stop", f"The make-up of {on} has foam under furring and no sheathing.",
                f"{NO_BRACE}: without boards or panels on the studs nothing keeps the wall from racking.",
                "Sheathe or brace first; write the sheathing into the make-up, existing: yes where it stands.", where, "IRC R602.10",
            )
        )  # fmt: skip
    named = _named(made, catalog, where, on)
    out += named
    foam = f"{wall.foam_m / IN:.2g} in of foam"
    guessed = (*wall.guessed, *made.loads.guessed)
    if made.product is None and not named:
        out.append(
            Finding(
                "fasteners.none", "stop", f"No fastener of the catalog holds furring through {foam} on {on}.",
                "; ".join(made.tried[:4]) or "The catalog has none with the figures that the sum needs.",
                "Design required: have an engineer design it, or make the foam thinner; longer screws go into catalog.yaml.", where, made.table.words,
            )
        )  # fmt: skip
    elif made.product is not None and not made.holds:
        worst = made.held.governing if made.held else None
        out.append(
            Finding(
                "fasteners.design_required", "stop",
                f"Design required: {made.product.title} every {made.spacing_m / IN:g} in does not hold furring through {foam} on {on}"
                + (f" ({worst.words}, {worst.used:.0%} used)." if worst else "."),
                f"By the code's table: {_told(made)}.",
                "Have an engineer design it; thinner foam, lighter cladding or closer studs help.", where, "IBC Table 2603.13.2",
            )
        )  # fmt: skip
    elif made.product is not None and not made.tabled:
        worst = made.held.governing if made.held else None
        assert worst is not None
        out.append(
            Finding(
                "fasteners.beyond_table", "warn",
                f"{made.product.title} every {made.spacing_m / IN:g} in through {foam} on {on}: the sum says it holds "
                f"({worst.words}, {worst.used:.0%} used); the code's table does not cover it.",
                f"By the code's table: {_told(made)}.",
                "Design required: show the sum to an engineer, or to the building official with the screw's own report.", where, "IBC Table 2603.13.2",
            )
        )  # fmt: skip
    if guessed:
        out.append(
            Finding(
                "fasteners.guessed", "note", f"Taken for the screws of {on}: {', '.join(guessed)}.",
                "Nobody wrote it down; the screws hang on it.",
                "Write wind, studs and thicknesses into house.yaml and plan again.", where, "common practice",
            )
        )  # fmt: skip
    return out + _siding_findings(made, catalog, where, on)


def _told(made: Design) -> str:
    thick = made.table.thickest_m
    said = "no answer" if thick is None else "design required" if thick == 0 else f"at most {thick / IN:g} in of foam"
    return f"{said} ({made.table.words})"


def _named(made: Design, catalog: Catalog, where: Where, on: str) -> list[Finding]:
    """Return a stop for a fastener that the job names and that cannot serve."""
    name = made.wall.named
    if name is None or name not in catalog or made.product is not None:
        return []
    product = catalog[name]
    if product.word("holds_as") not in KINDS:
        return [
            Finding(
                "fasteners.wrong_kind", "stop", f"{product.title} does not hold furring through foam on {on}.",
                "Nothing says whether it holds as a screw, a lag or a nail.",
                "Name another (furring-screw-10-5 ...), or leave the line out; a fastener of your own gets `holds as` in catalog.yaml.", where,
                "common practice",
            )
        ]  # fmt: skip
    length = product.number("length_m") or 0.0
    reach = length - made.wall.through_m
    asked = product.number("penetration_m")
    if asked is None or reach >= asked - 1e-6:
        return []
    return [
        Finding(
            "fasteners.short", "stop",
            f"{product.title} reaches {max(reach, 0.0) / IN:.2f} in into the studs of {on}; {asked / IN:g} in is asked.",
            f"It goes through {made.wall.through_m / IN:.2f} in first; boards do not count.",
            f"Take one of {(made.wall.through_m + asked) / IN:.2f} in or longer.", where, product.source("penetration_m"),
        )
    ]  # fmt: skip


def _siding_findings(made: Design, catalog: Catalog, where: Where, on: str) -> list[Finding]:
    wall = made.wall
    nail = catalog.products.get(wall.cladding.word("fastener")) if wall.cladding else None
    if nail is None:
        return []
    try:
        case, got, asked = siding_nail(wall, made.loads, nail)
    except ValueError:
        return []
    if got >= asked - 1e-6 and case.used <= 1:
        return []
    return [
        Finding(
            "fasteners.siding_nail", "warn",
            f"The siding's nails get {got / IN:.2f} in of wood in the strips of {on}; {asked / IN:g} in is asked"
            + (f", and the wind would draw them ({case.used:.0%} used)." if case.used > 1 else "."),
            "Behind the strip is foam, which holds no nail; 3/4 in furring is not enough for nails that need more.",
            "Take 2x furring, or siding and fastener approved for 3/4 in furring.", where, "IBC Table 2603.13.2, note",
        )
    ]  # fmt: skip
