"""Cladding: trim and corner boards, starter strips, siding by area, the clearances that keep it dry."""

from __future__ import annotations

import math
from collections.abc import Iterator

from shapely.geometry.base import BaseGeometry

from lapwright import fasteners
from lapwright.details.base import (
    PHASE_CLADDING,
    Check,
    Claim,
    Context,
    Detail,
    Part,
    Piece,
    PieceClaim,
    Place,
    RunClaim,
    Step,
)
from lapwright.details.bays import GAP_LAYERS, attachment_shape
from lapwright.details.boards import Board, Boards, casings, corner_boards, level_boards, rings
from lapwright.details.end_returns import end_returns
from lapwright.details.places import edges_of
from lapwright.details.runs import inside_of, wall_of
from lapwright.details.shapes import HEAD_TRIM_M, IN
from lapwright.details.work import check, face_length, of_step, say, step
from lapwright.findings import Finding, Where
from lapwright.geometry import box, merged, polygons, quad
from lapwright.survey.model import Opening

LEAST_M2 = 0.005  # slivers of siding between boards are filled with caulk or trim, not cut: common practice
TRIM_WORDS = {"casing": "casing boards", "corner-board": "corner boards", "end-board": "end boards"}
TRIM_ROLES = (*TRIM_WORDS, "end-return")

WOOD = {"board", "boards", "plank", "planks", "shiplap", "lumber", "plywood", "osb"}
NO_WOOD = {"gypsum", "fiber", "wool", "foam", "insulation"}


def _wooden(name: str) -> bool:
    """Return whether sheathing of that name is boards or panels of wood."""
    words = set(name.lower().replace("-", " ").split())
    return bool(words & WOOD) and not words & NO_WOOD


class Cladding(Detail):
    """Siding of any kind on one zone, with its boards."""

    name = "cladding"
    title = "Cladding"
    places = (("cladding", ""),)
    settings = {
        "casing": 3.5 * IN,
        "corner_board": 5.5 * IN,
        "end_board": 3.5 * IN,
        "head_gap": 0.375 * IN,
        "flashing_past": 4.5 * IN,
        "roof_clear": 1.5 * IN,
        "top_gap": 0.5 * IN,
        "joint": 0.5 * IN,
    }
    sources = {
        "casing": "a nominal 1x4",
        "corner_board": "a nominal 1x6",
        "end_board": "a nominal 1x4",
        "head_gap": "common practice: siding held 1/4-3/8 in above a head flashing",
        "flashing_past": "common practice: past the trim",
        "roof_clear": "common practice: 1-2 in above roofs, sheet decides",
        "top_gap": "common practice: the outlet of the gap",
        "joint": "common practice: old-to-new moves 1/4-1/2 in",
    }

    # ------------------------------------------------------------ claims

    def claims(self, place: Place, ctx: Context) -> Iterator[Claim]:
        s = {k: ctx.setting(self, k) for k in self.settings}
        siding = ctx.product(place, "cladding", "board-siding")
        boards = self._boards(place, ctx, s)
        for n, board in enumerate(boards.found):
            yield self._run(place, ctx, board, n)
        curved: list[BaseGeometry] = []
        for opening in _mine(place):
            if opening.shape != "rectangle":
                for ring in rings(opening, s["casing"]):
                    curved.append(ring)
                    yield self._bent(place, opening, ring)
        cut = (
            [b.keeps for b in boards.found if b.role in TRIM_ROLES]
            + curved
            + [h.polygon for h in boards.holes]
            + self._kept_free(place, s)
        )
        area = inside_of(place).difference(merged(cut))
        parts = [p for p in polygons(area) if p.area >= LEAST_M2]
        if parts:
            yield PieceClaim(
                key=place.id,
                place=place.id,
                role="siding",
                layer="cladding",
                product=siding.id,
                parts=tuple(Part(place.face.id, "face", p) for p in parts),
                phase=PHASE_CLADDING + 2,
                step=f"{place.id}/siding",
                held="fastened",
                quantity=(math.fsum(p.area for p in parts), "m2"),
                facts={"reveal_m": siding.number("reveal_m") or 0.0},
            )
        yield from end_returns(place, ctx)
        yield from self._nails(place, ctx)

    def _boards(self, place: Place, ctx: Context, s: dict[str, float]) -> Boards:
        boards = Boards(place, ctx)
        for opening in _mine(place):
            if opening.shape == "rectangle":
                casings(boards, opening, s["casing"])
        corner_boards(boards, s["corner_board"], s["end_board"], s["joint"])
        starter = ctx.product(place, "cladding", "board-siding").word("starter")
        if starter:
            level_boards(boards, starter, ctx.catalog[starter].needed("width_m"), s["casing"])
        return boards

    def _run(self, place: Place, ctx: Context, board: Board, rank: int) -> Claim:
        trim = board.role in TRIM_ROLES
        return RunClaim(
            key=f"{place.id}/{board.role}-{board.name}" if trim else f"{place.id}/{board.name}",
            place=place.id,
            role=board.role,
            layer="cladding",
            product=board.product,
            surface=place.face.id,
            start=board.line[0],
            end=board.line[1],
            low=board.low,
            high=board.high,
            phase=PHASE_CLADDING if trim else PHASE_CLADDING + 1,
            step=f"{place.id}/{'trim' if trim else 'starter'}",
            rank=rank,
            held="fastened",
        )

    def _bent(self, place: Place, opening: Opening, ring: BaseGeometry) -> Claim:
        return PieceClaim(
            key=f"{place.id}/casing-{opening.id}",
            place=place.id,
            role="casing",
            layer="cladding",
            product="trim-1x6",
            parts=tuple(Part(place.face.id, "face", p) for p in polygons(ring.intersection(inside_of(place)))),
            phase=PHASE_CLADDING,
            step=f"{place.id}/trim",
            held="fastened",
            quantity=(opening.polygon.length, "m"),
            facts={"curved": True},
        )

    def _kept_free(self, place: Place, s: dict[str, float]) -> list[BaseGeometry]:
        """Return what siding stays off: openings, roofs and ledgers with their clearance, head flashings, the top."""
        out: list[BaseGeometry] = [o.polygon for o in place.face.openings]
        out += [p.polygon for p in place.face.penetrations]
        for item in place.face.attachments:
            if item.decision != "keep":
                continue
            out.append(attachment_shape(item, place.face))
            if item.polygon is None:
                clear = s["roof_clear"] if "roof" in item.kind else s["head_gap"]
                out.append(quad(item.start, item.end, -1e-3, clear))
        for opening in place.face.openings:
            if opening.shape == "rectangle":
                x0, _, x1, head = opening.box
                past = s["flashing_past"]
                out.append(box(x0 - past, head, x1 + past, head + HEAD_TRIM_M + s["head_gap"]))
        if place.assembly is not None and place.zone is not None and any(place.assembly.product(g) for g in GAP_LAYERS):
            for side, start, end in edges_of(place.zone):
                if side in ("top", "rake"):
                    out.append(quad(start, end, -s["top_gap"], 1e-3))
        return out

    def _nails(self, place: Place, ctx: Context) -> Iterator[Claim]:
        """Say when the siding's own nail does not reach far enough into the stud.

        Boards and panels of wood on the studs hold it together with them (common practice of siding: 1-1/2 in, ring
        shank 1-1/4 in, into studs and wood sheathing combined; from memory); beyond foam only the stud counts.
        """
        if fasteners.wall_of(place.assembly, place.face, ctx.catalog) is not None:
            return  # nailed to strips over foam: `lapwright.fasteners` says what the strips hold
        siding = ctx.product(place, "cladding", "board-siding")
        nail = ctx.catalog.products.get(siding.word("fastener"))
        length, need = (nail.number("length_m"), nail.number("penetration_m")) if nail else (None, None)
        if nail is None or length is None or need is None or place.assembly is None:
            return
        through, foam = siding.number("thickness_m") or 0.0, False
        for layer in place.assembly.layers:
            foam |= layer.layer == "insulation"
            if layer.layer == "sheathing" and not foam and _wooden(layer.product or layer.material or ""):
                continue
            if layer.layer in (*GAP_LAYERS, "insulation", "sheathing"):
                product = ctx.catalog[layer.product] if layer.product else None
                through += layer.thickness_m or (product.number("thickness_m") if product else None) or 0.0
        if length - through >= need - 1e-6:
            return
        yield Finding(
            "cladding.nail_short",
            "warn",
            f"Nails of {say(ctx, length)} reach {say(ctx, max(0.0, length - through))} into the studs of {wall_of(place)}; "
            f"{say(ctx, need)} are asked.",
            f"They go through {say(ctx, through)} of what does not hold them first; beyond foam boards do not either.",
            f"Take nails of {say(ctx, through + need)} or longer and write them in catalog.yaml under {nail.id}; with furring, 2x or an approved design.",
            Where(ctx.survey.file, place.where.line, place.face.id, place.id),
            nail.source("penetration_m"),
        )

    # ------------------------------------------------------------ steps and checks

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        wall = wall_of(place)
        siding = ctx.product(place, "cladding", "board-siding")
        needs: tuple[str, ...] = tuple(f"{wall}/{layer}/outlets" for layer in GAP_LAYERS)
        needs = (*needs, f"{wall}/furring/strips", f"{wall}/barrier/done")
        trim = of_step(pieces, place, "trim")
        if trim:
            meters = _length(trim)
            count = {r: len({p.claim for p in trim if p.role == r}) for r in TRIM_ROLES}
            yield step(
                ctx,
                place,
                self.name,
                "trim",
                f"Trim on {wall}, {say(ctx, meters)}: "
                + ", ".join(f"{words} {count[role]}" for role, words in TRIM_WORDS.items() if count[role])
                + f"{_sides(ctx, trim)}; back-primed, cut ends primed, feet off the flashings.",
                [("trim", meters)],
                pieces,
                needs=needs,
            )
            needs = ("trim", *needs)
        low = of_step(pieces, place, "starter")
        if low:
            starters, closures = ([p for p in low if p.role == r] for r in ("starter", "closure"))
            yield step(
                ctx,
                place,
                self.name,
                "starter",
                f"Starter strip on {wall}, {say(ctx, _length(starters))}; closure strip behind the cut course under sills and at the top, "
                f"{say(ctx, _length(closures))}. Over the gap, never into it.",
                [("trim", _length(low))],
                pieces,
                needs=needs,
            )
            needs = ("starter", *needs)
        boards = of_step(pieces, place, "siding")
        if boards:
            area = math.fsum(p.polygon.area for p in boards)
            reveal = siding.number("reveal_m")
            shown = f", {say(ctx, reveal)} to the weather" if reveal else ""
            furred = place.assembly is not None and place.assembly.product("furring") is not None
            holds = "the furring, clear of its screws" if furred else "the studs"
            yield step(
                ctx,
                place,
                self.name,
                "siding",
                f"{siding.title} on {wall}, {_area(ctx, area)}{shown}: nails in {holds}; {say(ctx, ctx.setting(self, 'head_gap'))} "
                "open above every head flashing, no caulk there.",
                [(siding.word("rate", "siding"), max(area, 0.05))],
                pieces,
                needs=needs,
                covers=(f"{wall}/barrier",),
            )

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        if not of_step(pieces, place, "siding"):
            return
        wall = wall_of(place)
        siding = ctx.product(place, "cladding", "board-siding")
        clear = siding.number("clearance_m") or 6 * IN
        yield check(
            place,
            "siding",
            "earth",
            f"siding of {wall} above earth and paving, least height (2 in do over concrete)",
            "in",
            round(clear / IN, 2),
            None,
            "Dig, flash or cut the siding back; do not leave wood in the splash.",
            siding.source("clearance_m"),
            count=4,
            hold=False,
        )
        heads = [o for o in _mine(place) if o.shape == "rectangle"]
        if heads:
            yield check(
                place,
                "siding",
                "heads",
                f"siding on {wall} open above each head flashing, not caulked",
                "in",
                0.25,
                0.5,
                "Cut it back; rake out caulk: water behind the siding must get out there.",
                self.sources["head_gap"],
                count=len(heads),
                hold=False,
            )
        roofs = [a for a in place.face.attachments if a.decision == "keep" and "roof" in a.kind]
        if roofs:
            yield check(
                place,
                "siding",
                "roofs",
                f"siding on {wall} above the roof's surface",
                "in",
                1.0,
                2.0,
                "Cut it back; prime the cut.",
                self.sources["roof_clear"],
                count=2 * len(roofs),
                hold=False,
            )


def _mine(place: Place) -> list[Opening]:
    """Return the openings whose middle lies in the zone."""
    zone = inside_of(place)
    return [o for o in place.face.openings if zone.contains(o.polygon.representative_point())]


def _sides(ctx: Context, trim: list[Piece]) -> str:
    """Return what is said of the boards that close the side of a thick skin; "" where there are none."""
    mine = [p for p in trim if p.role == "end-return"]
    if not mine:
        return ""
    deep = sorted({round(p.polygon.bounds[2] - p.polygon.bounds[0], 4) for p in mine})
    return f", returns {len(mine)} over the open sides of foam and furring, {' and '.join(say(ctx, d) for d in deep)} deep"


def _length(pieces: list[Piece]) -> float:
    """Return the length of boards, curved casings by their own length, in metres."""
    bent = {p.claim: float(p.facts["quantity"][0]) for p in pieces if "quantity" in p.facts}
    sides = math.fsum(p.polygon.bounds[3] - p.polygon.bounds[1] for p in pieces if p.role == "end-return")
    return face_length(p for p in pieces if p.claim not in bent and p.role != "end-return") + math.fsum(bent.values()) + sides


def _area(ctx: Context, area_m2: float) -> str:
    """Return an area in the job's units."""
    return f"{area_m2 / 0.09290304:.0f} sq ft" if ctx.survey.units == "imperial" else f"{area_m2:.1f} m2"
