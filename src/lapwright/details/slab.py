"""A floor on the ground: dig, gravel, foam, retarder right under the concrete, slab, drying."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

from lapwright.catalog.model import Product
from lapwright.details.base import (
    Check,
    Claim,
    Context,
    Detail,
    FieldClaim,
    HoleClaim,
    Part,
    Piece,
    PieceClaim,
    Place,
    RunClaim,
    Step,
    TieClaim,
)
from lapwright.details.shapes import IN, limits_of
from lapwright.details.sheet_claim import SheetClaim
from lapwright.details.slab_case import SlabCase
from lapwright.details.work import check, many, of_step, say, step
from lapwright.geometry import polygons
from lapwright.survey.slabs import thing_shape
from lapwright.units import CU_YARD_M3

PHASE_FLOOR = 600  # floors come after the walls in the numbering; nothing on a wall lies over them
EDGE = "edge-strip-foam"
TAPE = "seam-tape-3"
BAY_M = 6 * 12 * IN  # old slab is broken out and poured again in bays; common practice, no source
DIG_STEP_M = 4 * IN  # see the labor rate `dig`


def _nth(name: str, number: int) -> str:
    """Return the name of the first layer of a kind, and of those above it."""
    return name if number == 1 else f"{name}-{number}"


class FloorOnGround(Detail):
    """An insulated slab in place of an old floor."""

    name = "slab-on-ground"
    title = "Insulated slab"
    places = (("slab", ""),)
    settings = {"edge_strip": 0.5 * IN, "stagger": 12 * IN, "sliver": 6 * IN, "layer_off": 12 * IN, "retarder_lap": 6 * IN}
    sources = {
        "edge_strip": "common practice: 1/2 in of foam between slab and wall",
        "stagger": "common practice",
        "sliver": "common practice: narrower pieces tip under foot",
        "layer_off": "common practice",
        "retarder_lap": "IRC R506.2.3: lapped 6 in",
    }

    def claims(self, place: Place, ctx: Context) -> Iterator[Claim]:
        case = SlabCase.of(place, ctx)
        yield from case.findings()
        rank = 0
        for number, (_, product, thick) in enumerate(reversed(case.gravel), 1):
            yield self._spread(place, case, product, thick, "gravel", rank, number)
        yield from self._edge(place, ctx, case)
        rank += 10
        yield from self._boards(place, ctx, case, rank)
        rank += 10
        yield from self._retarder(place, ctx, case)
        for number, (_, product, thick) in enumerate(reversed(case.concrete), 1):
            yield self._spread(place, case, product, thick, "slab", rank + 10, number)
        yield self._tie(place, case)

    def _tie(self, place: Place, case: SlabCase) -> Claim:
        """Return where the floor meets the foundation: retarder taped up the wall, foam under the slab and on edge beside it."""
        ring = (*case.slab.outline, case.slab.outline[0])
        taped = tuple(f"{place.id}/retarder" + (f"-{n + 1}" if n else "") for n, _ in enumerate(case.layers("vapor")))
        foam = tuple(f"{place.id}/foam-{n + 1}" for n, _ in enumerate(case.layers("insulation")))
        edge = tuple(f"{place.id}/edge-{n + 1}" for n, _ in enumerate(case.slab.outline))
        return TieClaim(
            f"{place.id}/edge", (place.id, "foundation"), place.face.id, ring, None, taped, taped or None,
            (*foam, *edge) if foam else None,
        )  # fmt: skip

    def _spread(
        self, place: Place, case: SlabCase, product: Product, thick: float, role: str, rank: int, number: int
    ) -> PieceClaim:
        """Return what is poured or spread; number: which layer of its kind from below."""
        return PieceClaim(
            key=f"{place.id}/{_nth(role, number)}",
            place=place.id,
            role=role,
            layer="slab",
            product=product.id,
            parts=tuple(Part(place.face.id, "face", p) for p in case.bare),
            phase=PHASE_FLOOR + (0 if role == "gravel" else 8),
            step=f"{place.id}/{_nth(role, number) if role == 'gravel' else 'pour'}",
            rank=rank + number - 1,
            held="loose",
            quantity=(math.fsum(p.area for p in case.bare) * thick, "m3"),
            facts={"thickness_m": thick},
        )

    def _edge(self, place: Place, ctx: Context, case: SlabCase) -> Iterator[Claim]:
        """Yield a strip along each wall: on edge, so the floor loses its thickness."""
        if EDGE not in ctx.catalog or not case.concrete:
            return
        thick = ctx.setting(self, "edge_strip")
        corners = [*case.slab.outline, case.slab.outline[0]]
        for n, (a, b) in enumerate(itertools.pairwise(corners)):
            yield RunClaim(
                key=f"{place.id}/edge-{n + 1}",
                place=place.id,
                role="edge-strip",
                layer="slab",
                product=EDGE,
                surface=place.face.id,
                start=a,
                end=b,
                low=0.0,
                high=ctx.catalog[EDGE].needed("width_m"),
                phase=PHASE_FLOOR + 1,
                step=f"{place.id}/edge",
                rank=n,
                held="loose",
                facts={"stands_m": thick},
            )

    def _boards(self, place: Place, ctx: Context, case: SlabCase, rank: int) -> Iterator[Claim]:
        inset = case.floor.buffer(-ctx.setting(self, "edge_strip"), join_style="mitre")
        holes = [thing_shape(t) for t in case.slab.things]
        parts = polygons(inset)
        for hole in holes:
            parts = [q for p in parts for q in polygons(p.difference(hole))]
        snug = tuple((t.id, *t.at, *t.size) for t in case.slab.things)
        before: dict[int, str] = {}
        for number, (_, product, _) in enumerate(reversed(case.layers("insulation")), 1):
            for n, part in enumerate(parts):
                key = f"{place.id}/foam-{number}" + (f"-{n + 1}" if n else "")
                yield SheetClaim(
                    key=key,
                    place=place.id,
                    role="board",
                    layer="insulation",
                    product=product.id,
                    surface=place.face.id,
                    region=part,
                    step=f"{place.id}/foam-{number}",
                    phase=PHASE_FLOOR + 2 + number,
                    lay="either",
                    stagger_m=ctx.setting(self, "stagger"),
                    sliver_m=ctx.setting(self, "sliver"),
                    above=before.get(n),
                    layer_off_m=ctx.setting(self, "layer_off"),
                    tape=TAPE if number == len(case.layers("insulation")) else None,
                    tape_step=f"{place.id}/seams",
                    snug=snug,
                    rank=rank + number,
                    held="loose",
                    facts={"layer_no": number},
                )
                before[n] = key

    def _retarder(self, place: Place, ctx: Context, case: SlabCase) -> Iterator[Claim]:
        lap = ctx.setting(self, "retarder_lap")
        for n, (_, product, _) in enumerate(case.layers("vapor")):
            yield FieldClaim(
                key=f"{place.id}/retarder" + (f"-{n + 1}" if n else ""),
                place=place.id,
                role="course",
                layer="vapor",
                product=product.id,
                surface=place.face.id,
                region=case.floor,
                course_lap_m=max(lap, product.number("course_lap_m") or 0.0),
                end_lap_m=max(lap, product.number("end_lap_m") or 0.0),
                step=f"{place.id}/course",
                off_m=0.0,
                corner_m=0.0,
                phase=PHASE_FLOOR + 6,
                held="taped",
            )
            for thing in case.slab.things:
                yield HoleClaim(place.id, place.face.id, "vapor", thing_shape(thing))

    # ------------------------------------------------------------ steps

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        case = SlabCase.of(place, ctx)
        name, area = place.face.id, max(case.floor.area, 0.1)
        last: tuple[str, ...] = ()
        posts = [t.id for t in case.slab.things if t.kind == "post"]
        if posts:
            yield self._bare(
                ctx, place, "shore", f"Shore beside {', '.join(posts)} on a plate of its own before anything near their pads is touched; "
                "the posts stay.", [("check", float(len(posts)))], (), "holds up what the posts carry; no material",
            )  # fmt: skip
            last = ("shore",)
        x0, y0, x1, y1 = case.floor.bounds
        bays = max(1, math.ceil(max(x1 - x0, y1 - y0) / BAY_M - 1e-9))
        for n, (word, count) in enumerate((("odd", (bays + 1) // 2), ("even", bays // 2)), 1):
            if not count:
                continue
            share = area * count / bays
            tasks = [("break-slab", share)] if case.slab.old_m else []
            deep = max(0.0, (case.dig_m or 0.0) - case.slab.old_m)
            if deep > 1e-3:
                tasks.append(("dig", share * deep / DIG_STEP_M))
            if not tasks:
                continue
            deeper = deep > 1e-3
            acts = []
            if case.slab.old_m:
                acts.append(f"break out {say(ctx, case.slab.old_m)} of old slab")
            if deeper:
                acts.append(f"dig to {say(ctx, case.dig_m or 0.0)} below the old floor")
            elif case.dig_m is None:
                acts.append("dig as the headroom asks, once it is known")
            else:
                acts.append("no digging below it, only leveling")
            wedge = (
                f" Stay {say(ctx, case.wedge.bench_m)} off the wall with the full depth."
                if case.wedge and 0 < case.wedge.bench_m < 50
                else ""
            )
            which = (
                f"{name} in one bay" if bays == 1 else f"Bays {', '.join(str(k) for k in range(n, bays + 1, 2))} of {bays} across {name}"
            )
            other = "even" if word == "odd" else "odd"
            hold = (
                " Pack the gravel the same day: nothing else holds the foot of the wall meanwhile."
                if bays == 1
                else f" Pack the gravel of each before the next is opened; the {other} ones hold the foot of the wall meanwhile."
                if n == 1
                else " Pack the gravel of each before the next is opened; the gravel of the odd ones holds the foot of the wall meanwhile."
            )
            yield self._bare(
                ctx, place, f"bays-{n}", f"{which}: {' and '.join(acts)}.{hold}{wedge}",
                tasks, last, "takes material out; puts none in",
            )  # fmt: skip
            last = (f"bays-{n}",)
        yield from self._layers(place, ctx, case, pieces, last)

    def _bare(
        self, ctx: Context, place: Place, name: str, action: str, tasks: Sequence[tuple[str, float]], needs: tuple[str, ...],
        reason: str, wait_h: float = 0.0,
    ) -> Step:  # fmt: skip
        return step(ctx, place, self.name, name, action, tasks, [], needs=needs, reason=reason, wait_h=wait_h)

    def _layers(
        self, place: Place, ctx: Context, case: SlabCase, pieces: list[Piece], last: tuple[str, ...]
    ) -> Iterator[Step]:
        name, area = place.face.id, max(case.floor.area, 0.1)
        for number, (_, product, thick) in enumerate(reversed(case.gravel), 1):
            radon = "; radon pipe stub in it, capped above the floor" if number == 1 else ""
            yield step(
                ctx, place, self.name, _nth("gravel", number),
                f"{say(ctx, thick)} of {product.title.lower()} over {name}, packed and level{radon}.",
                [("gravel", area)], pieces, needs=last,
            )  # fmt: skip
            last = (_nth("gravel", number),)
        edges = of_step(pieces, place, "edge")
        if edges:
            meters = sum(p.facts["run_length_m"] for p in edges)
            yield step(
                ctx, place, self.name, "edge",
                f"Edge strip on edge along the walls of {name}, {say(ctx, meters)}, top level with the new slab.",
                [("strip", meters)], edges, needs=last,
            )  # fmt: skip
            last = ("edge",)
        for number, (_, product, _) in enumerate(reversed(case.layers("insulation")), 1):
            mine = of_step(pieces, place, f"foam-{number}")
            cut = [p for p in mine if "holes" in p.facts]
            tight = f" Cut {len(cut)} tight round {', '.join(sorted({h['thing'] for p in cut for h in p.facts['holes']}))}." if cut else ""
            rim = sum(1 for p in mine if p.facts["at_edge"])
            yield step(
                ctx, place, self.name, f"foam-{number}",
                f"{product.title}, layer {number} on {name}: {many(len(mine), 'piece')}, the {rim} along the walls first, then the field, joints "
                f"{say(ctx, ctx.setting(self, 'stagger'))} apart from row to row; no board rocks.{tight}",
                [("slab-floor", area)], mine, needs=last,
            )  # fmt: skip
            last = (f"foam-{number}",)
        seams = of_step(pieces, place, "seams")
        if seams:
            meters = sum(max(b[2] - b[0], b[3] - b[1]) for p in seams for b in [p.polygon.bounds])
            yield step(
                ctx, place, self.name, "seams", f"Tape {say(ctx, meters)} of joints of the foam on {name}.",
                [("strip", meters)], seams, needs=last, limits=limits_of(ctx.catalog[TAPE]),
            )  # fmt: skip
            last = ("seams",)
        film = [p for p in pieces if p.layer == "vapor"]
        for n in sorted({int(p.facts["course"]) for p in film}):
            mine = [p for p in film if p.facts["course"] == n]
            round_ = ", ".join(t.id for t in case.slab.things) or "nothing else"
            ends = f" Cut tight and tape round {round_}." if n == 1 else ""
            yield step(
                ctx, place, self.name, f"course-{n}",
                f"Retarder on {name}, strip {n}: {len(mine)} sheet{'s' if len(mine) > 1 else ''} over the foam, laps "
                f"{say(ctx, ctx.setting(self, 'retarder_lap'))} or more, taped; up the walls to the top of the slab and taped "
                f"there.{ends} Nothing but concrete comes on it.",
                [("slab-floor", area * sum(p.polygon.area for p in mine) / max(sum(p.polygon.area for p in film), 1e-9))],
                mine, needs=last,
            )  # fmt: skip
            last = (f"course-{n}",)
        if case.tube:
            length, loops = case.tube
            yield self._bare(
                ctx, place, "tube",
                f"{say(ctx, length)} of heating tube in {loops} loop{'s' if loops > 1 else ''}, {say(ctx, case.slab.tube_spacing_m or 0.0)} "
                f"apart, 6\" off the walls; hold pressure in it from now until after the pour.",
                [("tube", length)], last, "tube is the heating trade's to supply",
            )  # fmt: skip
            last = ("tube",)
        if case.concrete:
            yield step(
                ctx, place, self.name, "pour",
                f"Pour {say(ctx, case.slab_m)} over {name}, {case.concrete_m3:.2f} m3 ({case.concrete_m3 / float(CU_YARD_M3):.2f} cu yd) before "
                "waste; strike off to the edge strips, keep it wet for seven days.",
                [("pour", area)], pieces, needs=last, wait_h=7 * 24.0,
            )  # fmt: skip
            yield self._bare(
                ctx, place, "dry",
                f"Let {name} dry, about {case.drying_days:.0f} days for {say(ctx, case.slab_m)}; the meter decides, not the calendar.",
                [("check", 1.0)], ("pour",), "waits and reads; no material", wait_h=case.drying_days * 24,
            )  # fmt: skip

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        case = SlabCase.of(place, ctx)
        name = place.face.id
        if case.gravel:
            yield check(
                place, "gravel", "depth", f"top of the gravel of {name} below the finished floor", "mm",
                round((sum(t for _, _, t in case.layers("insulation")) + case.slab_m + case.slab.finish_m) * 1000 - 6, 1),
                None, "Take gravel out: the slab must not be thinner.", "the headroom budget", count=9,
            )  # fmt: skip
        if case.layers("vapor"):
            yield check(
                place, "course-1", "laps", f"laps of the retarder on {name}: narrowest found", "mm",
                round(ctx.setting(self, "retarder_lap") * 1000, 1), None, "Add a strip and tape both edges.",
                self.sources["retarder_lap"], count=4,
            )  # fmt: skip
        if case.concrete:
            yield check(
                place, "dry", "humidity", f"relative humidity in the slab of {name}, at 40 % of its depth", "%", None, 80.0,
                "Wait and read again; no flooring on it.", "ASTM F2170 for the way of measuring; the flooring's sheet for the limit",
                count=3,
            )  # fmt: skip
