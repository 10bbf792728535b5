"""A floor on the ground with everything its detail works from: layers top down, budget, dig, foam side by side."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from shapely import Polygon

from lapwright.catalog.model import Product
from lapwright.details.base import Context, Place
from lapwright.details.work import say
from lapwright.findings import Finding, Where
from lapwright.geometry import merged, polygons
from lapwright.scope.model import Layer
from lapwright.slab.dig import Dig, dig
from lapwright.slab.foam import GRAVITY, Board, Choice, judge
from lapwright.slab.headroom import Headroom, NoBudget, headroom
from lapwright.slab.quantities import concrete_m3, drying_days, tube
from lapwright.survey.slab_model import Slab
from lapwright.survey.slabs import thing_shape

RETARDER_M = 10 * 2.54e-5  # 10 mil (IRC R506.2.3, 2021; 6 mil before)
STONE_KG_M3 = 2600.0  # flooring whose weight nobody gave counts as stone: heavier than wood or tile, from memory
LOW_M = 80 * 0.0254  # 6 ft 8 in (IRC R305.1, basements without habitable rooms; 7 ft for habitable ones; from memory)
WORDS = {"now": "headroom now", "after": "headroom when done", "dig": "the dig"}


@dataclass(frozen=True)
class SlabCase:
    """One floor. All lengths in metres."""

    place: Place
    ctx: Context
    slab: Slab

    @classmethod
    def of(cls, place: Place, ctx: Context) -> SlabCase:
        """Return the case of a floor's place."""
        return cls(place, ctx, next(s for s in ctx.survey.slabs if s.id == place.face.id))

    def layers(self, kind: str) -> list[tuple[Layer, Product, float]]:
        """Return (layer, product, thickness) of the new layers of a kind, from the top down."""
        assert self.place.assembly is not None
        out = []
        for layer in self.place.assembly.layers:
            if layer.layer == kind and layer.product and not layer.existing:
                product = self.ctx.catalog[layer.product]
                thick = layer.thickness_m or product.number("thickness_m") or 0.0
                out.append((layer, product, thick))
        return out

    @cached_property
    def concrete(self) -> list[tuple[Layer, Product, float]]:
        """The slab's own layers: those of layer `slab` that are not gravel."""
        return [row for row in self.layers("slab") if row[1].id != "gravel"]

    @cached_property
    def gravel(self) -> list[tuple[Layer, Product, float]]:
        """Gravel, whether written as layer `gravel` or as layer `slab`."""
        return [*self.layers("gravel"), *(row for row in self.layers("slab") if row[1].id == "gravel")]

    @cached_property
    def floor(self) -> Polygon:
        """The floor's outline."""
        return Polygon(self.slab.outline)

    @cached_property
    def bare(self) -> list[Polygon]:
        """The floor less posts, pipes, drains and sumps."""
        return polygons(self.floor.difference(merged(thing_shape(t) for t in self.slab.things)))

    @cached_property
    def slab_m(self) -> float:
        """Thickness of the concrete."""
        return sum(t for _, _, t in self.concrete)

    @cached_property
    def budget(self) -> Headroom | str:
        """The headroom budget, or why there is none."""
        s = self.slab
        thick = {
            "gravel": sum(t for _, _, t in self.gravel),
            "foam": sum(t for _, _, t in self.layers("insulation")),
            "slab": self.slab_m,
            "finish": s.finish_m,
        }
        try:
            return headroom({**thick, "now": s.now_m, "dig": s.dig_m, "after": s.wanted_m})
        except NoBudget as why:
            return str(why)

    @cached_property
    def dig_m(self) -> float | None:
        """How deep the dig goes below the old floor, None when nothing tells."""
        if isinstance(self.budget, Headroom):
            return self.budget["dig"]
        return self.slab.dig_m

    @cached_property
    def wedge(self) -> Dig | None:
        """What the dig does to the foot of the wall."""
        f = self.slab.foot
        if self.dig_m is None:
            return None
        # the old slab is no soil: taking it out digs nothing away
        return dig(
            max(0.0, self.dig_m), f.foot_m, footing=f.footing, wall=f.kind, soil=f.soil, bowed=f.bowed, wet=f.wet
        )

    @property
    def finish_pa(self) -> float:
        """What the flooring weighs; where nobody says, as stone of its thickness."""
        s = self.slab
        return s.finish_pa if s.finish_pa is not None else s.finish_m * STONE_KG_M3 * GRAVITY

    @cached_property
    def foams(self) -> list[Choice]:
        """Every board of the catalog held against this floor, in the order of their ids."""
        s = self.slab
        out = []
        for product in sorted(self.ctx.catalog.products.values(), key=lambda p: p.id):
            if product.layer == "insulation" and product.form == "sheet" and product.number("thickness_m"):
                out.append(
                    judge(
                        board_of(product, self.ctx.scope.prices.get(product.id)),
                        slab_m=self.slab_m or 0.1016,
                        finish_pa=self.finish_pa,
                        live_pa=s.live_pa or 0.0,
                        point_n=(s.point_kg or 0.0) * GRAVITY,
                        wanted_r=s.wanted_r,
                        water_limit_pct=s.water_limit_pct,
                    )
                )
        return out

    @cached_property
    def concrete_m3(self) -> float:
        """Concrete poured, without waste."""
        return concrete_m3(sum(p.area for p in self.bare), self.slab_m)

    @cached_property
    def tube(self) -> tuple[float, int] | None:
        """(length, loops) of heating tube, None when there is none."""
        spacing = self.slab.tube_spacing_m
        return tube(self.floor.area, self.floor.length, spacing) if spacing else None

    @cached_property
    def drying_days(self) -> float:
        """Days until flooring, to plan with; a reading decides."""
        return drying_days(self.slab_m)

    # ------------------------------------------------------------ findings

    def findings(self) -> Iterator[Finding]:
        """Yield what is wrong with the floor as it is wanted, or cannot be told."""
        yield from self._budget()
        yield from self._dig()
        yield from self._foam()
        yield from self._order()
        if self.slab.water_seen:
            yield self._said(
                "slab.water_first", "warn", f"Water was seen on the floor of {self.slab.id}.",
                "A slab over wet ground floats, heaves or stays damp.",
                "Put in the drain and the sump first, and watch it through one wet season.", "common practice",
            )  # fmt: skip

    def _said(self, code: str, level: str, what: str, why: str, fix: str, source: str = "") -> Finding:
        where = Where(self.ctx.survey.file, self.slab.where.line, self.slab.id, self.place.id)
        return Finding(code, level, what, why, fix, where, source)  # type: ignore[arg-type]

    def _budget(self) -> Iterator[Finding]:
        if isinstance(self.budget, Headroom):
            yield from self._lower(self.budget)
            return
        negative = "would have to be" in self.budget or "off" in self.budget or "less than" in self.budget
        told = self.budget
        for name, word in WORDS.items():
            told = told.replace(name, word) if told.startswith(name) or f" {name} " in told else told
        yield self._said(
            "slab.headroom" if negative else "slab.headroom_open", "stop" if negative else "note",
            f"The headroom of {self.slab.id} does not come out: {told}.",
            "Headroom when done = headroom now + dig - gravel - foam - slab - finish.",
            "Make a layer thinner or dig deeper; if the floor is to come up, say so with a thicker layer or a lower `wanted`." if negative
            else "Give headroom (now, wanted) and the dig; one of them may be left out.",
        )  # fmt: skip

    def _lower(self, budget: Headroom) -> Iterator[Finding]:
        now, after = budget["now"], budget["after"]
        if after < now - 1e-3:
            low = after < LOW_M - 1e-3
            yield self._said(
                "slab.lower", "warn" if low else "note",
                f"{self.slab.id} loses headroom: {say(self.ctx, now)} now, {say(self.ctx, after)} when done"
                + (f", and less than {say(self.ctx, LOW_M)}." if low else "."),
                "Beams, ducts and doors hang lower still; a low basement may not be lived in.",
                f"Dig {say(self.ctx, now - after)} deeper to keep what there is, or take a thinner layer; ask the building office.",
                "IRC R305.1, from memory",
            )  # fmt: skip

    def _dig(self) -> Iterator[Finding]:
        found = self.wedge
        if found is None or not found.reasons:
            return
        yield self._said(
            "slab.dig", "stop",
            f"{self.slab.id}: {'; '.join(found.reasons)}.",
            "The old slab braces the foot of the wall and the soil beside it carries it; dug away, the wall can come in.",
            "Stop and get an engineer. Break out and pour again in bays; stay off the wedge of soil at the foot; shore a "
            "post before touching its pad.",
            "common practice; IRC R404.1 takes walls as braced at top and bottom",
        )  # fmt: skip

    def _foam(self) -> Iterator[Finding]:
        chosen = {p.id for _, p, _ in self.layers("insulation")}
        for choice in self.foams:
            if choice.board.product not in chosen:
                continue
            layers = sum(p.id == choice.board.product for _, p, _ in self.layers("insulation"))
            for reason in choice.out:
                yield self._said(
                    "slab.foam", "stop", f"{choice.board.title} under {self.slab.id}: {reason}.",
                    "Crushed or soaked foam lets the slab crack and the heat go.",
                    "Choose another board; the foam page holds them side by side.",
                    "published data sheet of XPS by class; ASTM C578",
                )  # fmt: skip
            if choice.layers > layers:
                yield self._said(
                    "slab.foam_thin", "warn",
                    f"{choice.board.title} under {self.slab.id}: {layers} of it give less than the R you want; it takes {choice.layers}.",
                    "R adds up board by board.", "Add a layer to the assembly, and see what it does to the headroom.",
                )  # fmt: skip
            if choice.open:
                yield self._said(
                    "slab.foam_open", "note",
                    f"{choice.board.title} under {self.slab.id}: {', '.join(choice.open)} not given, so it was not judged on that.",
                    "An empty figure is not a good one.", "Take it from the sheet and write it in catalog.yaml.",
                )  # fmt: skip

    def _order(self) -> Iterator[Finding]:
        assert self.place.assembly is not None
        kinds = [
            "gravel" if i.product == "gravel" else i.layer
            for i in self.place.assembly.layers
            if i.layer in ("slab", "vapor", "insulation", "gravel") and not i.existing
        ]
        want = sorted(kinds, key=["slab", "vapor", "insulation", "gravel"].index)
        if "vapor" not in kinds:
            yield self._said(
                "slab.no_retarder", "stop", f"{self.slab.id} has no vapor retarder under its slab.",
                "Ground moisture comes up through concrete for good.",
                "Add {layer: vapor, product: poly-retarder-10} right under the slab.", "IRC R506.2.3",
            )  # fmt: skip
        elif kinds != want:
            yield self._said(
                "slab.order", "stop", f"The layers of {self.slab.id} run {', '.join(kinds)} from the top down.",
                "Gravel, foam, then the retarder directly under the concrete: water caught between foam and retarder stays.",
                f"Write them as {', '.join(want)}.", "IRC R506.2.3; common practice",
            )  # fmt: skip
        for _, product, thick in self.layers("vapor"):
            if 0 < thick < RETARDER_M - 1e-6:
                yield self._said(
                    "slab.thin_retarder", "warn", f"{product.title} under {self.slab.id} is thinner than 10 mil.",
                    "Thin film is holed before the concrete comes.", "Take 10 mil.", "IRC R506.2.3, 2021 (6 mil before)",
                )  # fmt: skip


def board_of(product: Product, own_price: float | None = None) -> Board:
    """Return a catalog product as a board to be judged; own_price: the job's own, which overrules the catalog's."""
    area = (product.number("length_m") or 0.0) * (product.number("width_m") or 0.0)
    price, carbon = product.number("price") if own_price is None else own_price, product.number("kgCO2e")
    ground = product.word("ground_contact")
    return Board(
        product.id,
        product.title,
        product.needed("thickness_m"),
        product.number("strength_Pa"),
        product.number("strength_live_Pa"),
        product.number("strength_dead_Pa"),
        product.number("stiffness_Pa_m"),
        product.number("conductivity_W_mK"),
        None if (water := product.number("water_uptake_ratio")) is None else water * 100,
        None if not ground else ground == "yes",
        price / area if price is not None and area else None,
        carbon / area if carbon is not None and area else None,
    )
