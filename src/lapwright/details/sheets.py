"""Boards of insulation over the barrier, and sheathing panels under it, laid by `lapwright.layout.sheets`.

Layers of one kind in an assembly are put on from the wall outwards; the joints of an outer layer keep off
those underneath.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import ClassVar

from shapely import Polygon

from lapwright.catalog.model import Product
from lapwright.details.base import (
    PHASE_REPAIR,
    Check,
    Claim,
    Context,
    Detail,
    Piece,
    Place,
    Step,
)
from lapwright.details.bays import blockers
from lapwright.details.depths import PHASE_BOARDS
from lapwright.details.furring import studs_of
from lapwright.details.holes import holes_in
from lapwright.details.runs import inside_of, wall_of
from lapwright.details.shapes import IN, limits_of
from lapwright.details.sheet_claim import Lay, SheetClaim
from lapwright.details.work import check, many, of_step, say, step
from lapwright.findings import Finding, Where
from lapwright.geometry import merged, polygons, snap
from lapwright.scope.model import Layer

TOL = 1e-6


class Sheets(Detail):
    """What boards and panels share."""

    layer: ClassVar[str] = ""
    word: ClassVar[str] = ""
    rate: ClassVar[str] = ""
    phase: ClassVar[int] = PHASE_BOARDS
    lay: ClassVar[Lay] = "lying"
    rank: ClassVar[int] = 0  # what lies underneath is laid first
    settings = {"stagger": 12 * IN, "off_corner": 4 * IN, "sliver": 6 * IN, "layer_off": 6 * IN}
    sources = {
        "stagger": "common practice: joints of neighboring rows at least 12 in apart",
        "off_corner": "common practice: no joint in line with an opening's corner",
        "sliver": "common practice: narrower pieces break and hold no fastener",
        "layer_off": "common practice: joints of two layers at least 6 in apart",
    }

    def products(self, place: Place, ctx: Context) -> list[Product]:
        """Return the products of the place's layers of this kind, from the wall outwards."""
        assert place.assembly is not None
        names = [i.product for i in self.mine(place.assembly.layers) if i.product and not i.existing]
        return [ctx.catalog[n] for n in reversed(names)]

    def mine(self, layers: Sequence[Layer]) -> list[Layer]:
        """Return the layers of an assembly that this detail puts on, outside to inside."""
        return [i for i in layers if i.layer == self.layer]

    def region(self, place: Place, ctx: Context) -> list[Polygon]:
        """Return what is to be covered: the zone less what comes through the wall."""
        out = [snap(b.polygon) for b in (*blockers(place.face, 0.0), *holes_in(place.face, ctx, self.layer))]
        return polygons(inside_of(place).difference(merged(out)))

    def supports(self, place: Place, ctx: Context) -> tuple[float, ...] | None:
        """Return the x where upright joints must fall, or None for anywhere."""
        return None

    def under(self, place: Place) -> str | None:
        """Return where the keys of the sheets begin from whose joints the first layer stays away, None when there are none."""
        return None

    def gap(self, product: Product) -> float:
        """Return the open joint between two sheets."""
        return product.number("joint_m") or 0.0

    def tape(self, ctx: Context, product: Product) -> str | None:
        """Return the product that closes the seams, or None."""
        name = product.word("seam_tape")
        return name if name in ctx.catalog else None

    def claims(self, place: Place, ctx: Context) -> Iterator[Claim]:
        face = place.face
        corners = tuple(
            (float(x), float(y))
            for o in face.openings
            if o.shape != "round"
            for x, y in (
                list(o.polygon.exterior.coords)[:-1]
                if o.shape == "polygon"
                else [(o.box[a], o.box[b]) for a in (0, 2) for b in (1, 3)]
            )
        )
        snug = tuple(
            (p.id, (b[0] + b[2]) / 2, (b[1] + b[3]) / 2, b[2] - b[0], b[3] - b[1])
            for p in face.penetrations
            for b in [p.polygon.bounds]
        )
        supports = self.supports(place, ctx)
        before: dict[int, str] = {}
        under = self.under(place)
        for number, product in enumerate(self.products(place, ctx), 1):
            if not (product.number("length_m") and product.number("width_m")):
                yield Finding(
                    "sheet.no_size",
                    "stop",
                    f"{product.title} has no sheet size, so {place.id} cannot be laid out.",
                    "Without it nobody knows where the joints fall.",
                    "Give its length and width in catalog.yaml.",
                    Where(ctx.survey.file, place.where.line, face.id, place.id),
                )
                continue
            for n, part in enumerate(self.region(place, ctx)):
                key = f"{place.id}/{number}" + (f"-{n + 1}" if n else "")
                yield SheetClaim(
                    key=key,
                    place=place.id,
                    role=self.word,
                    layer=self.layer,
                    product=product.id,
                    surface=face.id,
                    region=part,
                    step=f"{place.id}/layer-{number}",
                    phase=self.phase + number,
                    corners=corners,
                    lay=self.lay,
                    gap_m=self.gap(product),
                    stagger_m=ctx.setting(self, "stagger"),
                    off_m=ctx.setting(self, "off_corner"),
                    sliver_m=ctx.setting(self, "sliver"),
                    supports=supports,
                    above=before.get(n, under),
                    layer_off_m=ctx.setting(self, "layer_off"),
                    tape=self.tape(ctx, product),
                    tape_step=f"{place.id}/seams-{number}",
                    snug=snug,
                    rank=self.rank + number,
                    facts={"layer_no": number},
                )
                before[n] = key

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        last = self.first(place)
        for number, product in enumerate(self.products(place, ctx), 1):
            mine = of_step(pieces, place, f"layer-{number}")
            if not mine:
                continue
            area = sum(p.polygon.area for p in mine)
            rows = max(int(p.facts["row"]) for p in mine)
            holed = [p for p in mine if "holes" in p.facts]
            tight = f" Cut {len(holed)} tight round {', '.join(sorted({h['thing'] for p in holed for h in p.facts['holes']}))}." if holed else ""
            yield step(
                ctx,
                place,
                self.name,
                f"layer-{number}",
                f"{product.title} on {wall_of(place)}, layer {number}: {many(len(mine), 'piece')} in {many(rows, 'row')}, lowest first, joints "
                f"{say(ctx, ctx.setting(self, 'stagger'))} or more apart from row to row; {self.closed(product, ctx)}{tight}",
                [(self.rate, max(area, 0.05))],
                mine,
                needs=last,
                limits=limits_of(product),
                covers=(place.id,),
            )
            last = (f"layer-{number}",)
            seams = of_step(pieces, place, f"seams-{number}")
            if seams:
                tape = ctx.catalog[seams[0].product or ""]
                meters = sum(max(b[2] - b[0], b[3] - b[1]) for p in seams for b in [p.polygon.bounds])
                yield step(
                    ctx,
                    place,
                    self.name,
                    f"seams-{number}",
                    f"Tape {say(ctx, meters)} of joints in layer {number} on {wall_of(place)}, level ones before upright ones are "
                    "crossed; half on each side, rolled, no fishmouths.",
                    [("strip", meters)],
                    seams,
                    needs=last,
                    limits=limits_of(tape),
                )
                last = (f"seams-{number}",)

    def first(self, place: Place) -> tuple[str, ...]:
        """Return the steps that must be done before the first layer."""
        return ()

    def closed(self, product: Product, ctx: Context) -> str:
        """Say how the joints are made."""
        gap = self.gap(product)
        return f"leave {say(ctx, gap)} between panels." if gap else "boards tight together."

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        for number, product in enumerate(self.products(place, ctx), 1):
            if not of_step(pieces, place, f"layer-{number}"):
                continue
            gap = self.gap(product)
            yield check(
                place,
                f"layer-{number}",
                "joints",
                f"joints of layer {number} on {wall_of(place)}: widest found",
                "mm",
                round(gap * 500, 1) if gap else None,
                round(gap * 2000, 1) if gap else 3.2,
                "Fill what is wider with foam sealant before the next layer; cut a board that rocks anew.",
                "common practice: 1/8 in" if not gap else product.source("joint_m"),
                count=4,
            )


class Boards(Sheets):
    """Rigid insulation outside the barrier."""

    name = "insulation-boards"
    title = "Insulation boards over the barrier"
    places = (("insulation", ""),)
    layer = "insulation"
    word = "board"
    rate = "insulation"
    rank = 20

    def under(self, place: Place) -> str | None:
        """New panels of the same zone, whose joints boards bridge."""
        assert place.assembly is not None
        new = [i for i in place.assembly.layers if i.layer == "sheathing" and i.product and not i.existing]
        return f"{wall_of(place)}/sheathing/{len(new)}" if new else None

    def mine(self, layers: Sequence[Layer]) -> list[Layer]:
        """Only what lies outside the barrier (without one: the sheathing); foam in the rooms is another trade's."""
        inner = next((n for kind in ("barrier", "sheathing") for n, i in enumerate(layers) if i.layer == kind), len(layers))
        return super().mine(layers[:inner])

    def first(self, place: Place) -> tuple[str, ...]:
        return (f"{wall_of(place)}/barrier/done",)


class Panels(Sheets):
    """Sheathing panels on the studs, under the barrier."""

    name = "sheathing-panels"
    title = "Sheathing panels on the studs"
    places = (("sheathing", ""),)
    layer = "sheathing"
    word = "panel"
    rate = "panels"
    phase = PHASE_REPAIR
    lay = "either"
    settings = {**Sheets.settings, "spacing": 16 * IN, "stagger": 16 * IN, "sliver": 12 * IN}
    sources = {
        **Sheets.sources,
        "spacing": "common practice: studs 16 in on center where nothing is known",
        "stagger": "common practice: one stud bay",
        "sliver": "common practice: a panel spans at least to its next stud",
    }

    def supports(self, place: Place, ctx: Context) -> tuple[float, ...]:
        studs, _ = studs_of(place.face, ctx.setting(self, "spacing"))
        return studs

    def claims(self, place: Place, ctx: Context) -> Iterator[Claim]:
        yield from super().claims(place, ctx)
        if not studs_of(place.face, ctx.setting(self, "spacing"))[1]:
            yield Finding(
                "sheet.studs_assumed",
                "note",
                f"Nobody has found the studs of {place.face.id}; panel joints are drawn on studs "
                f"{say(ctx, place.face.framing.spacing_m or ctx.setting(self, 'spacing'))} apart.",
                "A panel edge off the stud holds no nail.",
                "Find them, write them in house.yaml under framing, and plan again.",
                Where(ctx.survey.file, place.where.line, place.face.id, place.id),
                "common practice",
            )

    def first(self, place: Place) -> tuple[str, ...]:
        zone = place.zone
        return (f"{wall_of(place)}/tear-off/tear-off",) if zone is not None and zone.decision == "remove" else ()

    def closed(self, product: Product, ctx: Context) -> str:
        return f"upright joints on studs; {super().closed(product, ctx)}"
