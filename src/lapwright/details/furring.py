"""Furring: upright strips on the studs that keep the gap and carry the cladding.

Strips stand on every stud, at corners and ends, and beside openings; they stop an inch short of whatever
crosses the wall, so that water and air pass. Level furring would dam the gap: there is none.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lapwright.details.base import PHASE_GAP, Check, Claim, Context, Piece, PieceClaim, Place, RunClaim, Step
from lapwright.details.bays import blockers
from lapwright.details.gap import Gap
from lapwright.details.holes import holes_in
from lapwright.details.places import edges_of
from lapwright.details.runs import inside_of, left_over, merged_spans, wall_of
from lapwright.details.screws import screw_checks, screw_claims, screw_words
from lapwright.details.shapes import IN
from lapwright.details.work import check, face_length, of_step, say, step
from lapwright.findings import Finding, Where
from lapwright.geometry import box, polygons
from lapwright.survey.model import Face

Span = tuple[float, float]


@dataclass(frozen=True)
class Stick:
    """One upright strip: what it stands at (`end`, `jamb`, `stud`), its center line and its height, metres."""

    at: str
    x: float
    low: float
    high: float


def studs_of(face: Face, spacing_m: float) -> tuple[tuple[float, ...], bool]:
    """Return (center lines of the studs, whether they were measured).

    Unknown studs are taken every `spacing_m`, or the face's own spacing, from its left edge.
    """
    if face.framing.studs_m is not None:
        return face.framing.studs_m, True
    step_m = face.framing.spacing_m or spacing_m
    count = int(face.width_m / step_m + 1e-9)
    return tuple(step_m * k for k in range(1, count + 1) if step_m * k < face.width_m - 1e-6), False


def upright(zone: BaseGeometry, x0: float, x1: float) -> list[Span]:
    """Return the heights over which a strip from x0 to x1 lies wholly inside a zone."""
    slab = zone.intersection(box(x0, zone.bounds[1] - 1, x1, zone.bounds[3] + 1))
    out = []
    for part in polygons(slab):
        low, high = float(part.bounds[1]), float(part.bounds[3])
        bare = box(x0, low, x1, high).difference(part.buffer(1e-7, join_style="mitre"))
        out += left_over((low, high), ((p.bounds[1], p.bounds[3]) for p in polygons(bare)))
    return out


def sticks(
    place: Place, studs: tuple[float, ...], width: float, gap: float, shortest: float, holes: Sequence[Polygon] = ()
) -> list[Stick]:
    """Return the strips of a zone: at its upright ends first, then beside openings, then on the studs between.

    width: of a strip; gap: kept free above and below what crosses; shortest: strips below it are left out; metres.
    holes: what else the strips stay off, clearances included.
    """
    zone, half = inside_of(place), width / 2
    cuts = [(b.polygon, gap) for b in blockers(place.face, 0.0)] + [(h, 0.0) for h in holes]
    out: list[Stick] = []

    def add(at: str, x: float, low: float, high: float) -> None:
        x0, x1 = x - half, x + half
        taken = [(s.low - gap, s.high + gap) for s in out if s.x - half < x1 - 1e-6 and s.x + half > x0 + 1e-6]
        for cut, off in cuts:
            for part in polygons(cut.intersection(box(x0, cut.bounds[1] - 1, x1, cut.bounds[3] + 1))):
                taken.append((part.bounds[1] - off, part.bounds[3] + off))
        for a, b in upright(zone, x0, x1):
            reach = (max(a, low), min(b, high))
            if reach[1] > reach[0]:
                out.extend(Stick(at, x, c, d) for c, d in left_over(reach, merged_spans(taken), shortest))

    assert place.zone is not None
    for side, (x, low), (_, high) in edges_of(place.zone):
        if side in ("left", "right"):
            add("end", x + (half if side == "left" else -half), low, high)
    for opening in place.face.openings:
        x0, sill, x1, head = opening.box
        for x in (x0 - half, x1 + half):
            add("jamb", x, sill, head)
    _, low, _, high = zone.bounds
    for x in studs:
        add("stud", x, low, high)
    return sorted(out, key=lambda s: (round(s.x, 4), round(s.low, 4)))


class Furring(Gap):
    """Upright furring on the studs, open below and above, with insect screens."""

    name = "furring"
    title = "Furring on the studs"
    places = (("furring", ""),)
    layer = "furring"
    product = "furring-1x3"
    settings = {**Gap.settings, "spacing": 16 * IN, "gap": 1 * IN, "shortest": 3 * IN}
    sources = {
        **Gap.sources,
        "spacing": "common practice: studs 16 in on center where nothing is known",
        "gap": "common practice",
        "shortest": "common practice: shorter sticks split",
    }

    def claims(self, place: Place, ctx: Context) -> Iterator[Claim]:
        product = ctx.product(place, "furring", self.product)
        studs, known = studs_of(place.face, ctx.setting(self, "spacing"))
        width, holes = product.needed("width_m"), [h.polygon for h in holes_in(place.face, ctx, "furring")]
        upright_at = sticks(place, studs, width, ctx.setting(self, "gap"), ctx.setting(self, "shortest"), holes)
        # screws through foam are counted one by one; those on boards go by the product's own figure
        designed = list(screw_claims(place, ctx, upright_at, width, product.number("length_m")))
        counted = any(isinstance(c, PieceClaim) for c in designed)
        uprights = sorted({round(s.x, 4) for s in upright_at})
        for n, s in enumerate(upright_at):
            yield RunClaim(
                key=f"{place.id}/{s.at}-{round(s.x / IN)}-{round(s.low / IN)}",
                place=place.id,
                role="furring",
                layer="furring",
                product=product.id,
                surface=place.face.id,
                start=(s.x, s.low),
                end=(s.x, s.high),
                low=-width / 2,
                high=width / 2,
                phase=PHASE_GAP + 1,
                step=f"{place.id}/strips",
                rank=n,
                held="fastened",
                facts={
                    "at": s.at,
                    "center_m": s.x,
                    "label": str(uprights.index(round(s.x, 4)) + 1),
                    **({"fasteners_counted": True} if counted else {}),
                },
            )
        yield from designed
        if not known:
            yield Finding(
                "gap.studs_assumed",
                "note",
                f"Nobody has found the studs of {place.face.id}; they are taken {self._spacing(place, ctx)} on center from its left edge.",
                "Furring that misses the stud holds nothing: boards do not count (IBC Table 2603.13.2, note).",
                "Find them, write them in house.yaml under framing, and plan again.",
                Where(ctx.survey.file, place.where.line, place.face.id, place.id),
                "common practice",
            )
        yield from self.holes(place)
        yield from self.screens(place, ctx)

    def _spacing(self, place: Place, ctx: Context) -> str:
        return say(ctx, place.face.framing.spacing_m or ctx.setting(self, "spacing"))

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        # foam under the strips, when there is any, has to be up: its layers and their tape
        done: tuple[str, ...] = (
            f"{wall_of(place)}/barrier/done",
            *(f"{wall_of(place)}/insulation/{word}-{n}" for n in (1, 2, 3) for word in ("layer", "seams")),
        )
        _, known = studs_of(place.face, ctx.setting(self, "spacing"))
        if not known:
            yield step(
                ctx,
                place,
                self.name,
                "find-studs",
                f"Find the studs of {place.face.id} by nail lines and a probe hole at each end; mark them above and below. Plan again "
                f"when they are not {self._spacing(place, ctx)} apart.",
                [("lines", place.face.width_m)],
                [],
                needs=done,
                reason="looks for the studs; no material",
            )
            done = (*done, "find-studs")
        yield from self.screen_steps(place, ctx, pieces, "inlet", done)
        mine = [p for p in of_step(pieces, place, "strips") if p.role == "furring"]
        if mine:
            meters = face_length(mine)
            places = {at: len({p.claim for p in mine if p.facts["at"] == at}) for at in ("end", "jamb", "stud")}
            yield step(
                ctx,
                place,
                self.name,
                "strips",
                f"Furring on {wall_of(place)}: {places['stud']} strips on studs, {places['end']} at corners and ends, {places['jamb']} beside "
                f"openings, {say(ctx, meters)}; stop {say(ctx, ctx.setting(self, 'gap'))} short of heads, sills and bands; nothing level."
                + screw_words(ctx, pieces),
                [("furring", meters)],
                pieces,
                needs=("inlets", *done),
            )
        yield from self.screen_steps(place, ctx, pieces, "outlet", ("strips",))

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        yield from self.screen_checks(place, ctx, pieces)
        yield from screw_checks(place, ctx, pieces)
        if of_step(pieces, place, "strips"):
            yield check(
                place,
                "strips",
                "stud",
                f"furring screws of {wall_of(place)} in the stud: pull on one strip in ten",
                "yes/no",
                1.0,
                1.0,
                "Move the strip onto the stud; tape the holes it leaves in the barrier.",
                "IBC Table 2603.13.2 note: penetration counts in the stud, not in boards",
                count=max(3, math.ceil(sum(p.role == "furring" for p in of_step(pieces, place, "strips")) / 10)),
            )
