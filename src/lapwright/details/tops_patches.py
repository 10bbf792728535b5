"""Patches at the top of the wall: round a corner, and over a peak, when the strips they join all hang."""

from __future__ import annotations

import math
from collections.abc import Iterator

from shapely import Polygon
from shapely.affinity import translate

from lapwright.details.base import PHASE_AFTER, PHASE_FLASHING, Context, Part, Piece, PieceClaim, Place, Step
from lapwright.details.places import edges_of, is_new
from lapwright.details.runs import inside_of, strip_product
from lapwright.details.shapes import limits_of, one
from lapwright.details.work import face_length, of_step, step
from lapwright.geometry import box, merged, polygons, snap

# Later than every opening and pipe: the top strip lies over whatever reaches the top of the wall.
PHASE_TOP = (PHASE_AFTER + PHASE_FLASHING) // 2
PHASE_PATCH = PHASE_TOP + 1


def corner_patch(place: Place, ctx: Context, wide: float) -> Iterator[PieceClaim]:
    """Yield a patch that carries the top strips round the corner at the face's right end, where the tops meet."""
    face = place.face
    assert place.line is not None
    x, y = place.line[1]
    if face.right is None or abs(x - face.width_m) > 1e-4:
        return
    other = ctx.survey.face(face.right)
    tops = [(z, e[1]) for z in other.zones if is_new(z) for e in edges_of(z) if e[0] in ("top", "rake")]
    zone = next((z for z, p in tops if p[0] < 1e-4 and abs(p[1] - y) < 1e-3), None)
    if other.adjoins != "outside" or zone is None:
        return
    here = one(box(x - wide, y - wide, x, y).intersection(inside_of(place)))
    there = one(box(0.0, y - wide, wide, y).intersection(zone.polygon))
    if min(here.area, there.area) < wide**2 / 2:
        return  # only the tip of a wedge reaches the corner: film closes it
    if any(o.polygon.intersects(a) for f, a in ((face, here), (other, there)) for o in f.openings):
        return
    flat = one(merged([snap(translate(here, wide - x, wide - y)), snap(translate(there, wide, wide - y))]))
    yield PieceClaim(
        key=f"{place.id}/corner",
        place=place.id,
        role="corner-patch",
        layer="strip",
        product=strip_product(place, ctx, wide).id,
        parts=(Part(face.id, "face", here), Part(other.id, "face", there)),
        phase=PHASE_PATCH,
        step=f"{place.id}/patch",
        rank=3,
        flat=flat,
        folds=((((wide, 0.0), (wide, wide)), face.turn_deg),),
        facts={"lap_m": 0.0},
    )


def peak_patch(place: Place, wide: float) -> Polygon | None:
    """Return the patch over the peak when this is the rake on its left side, else None."""
    assert place.line is not None
    (_, y0), (x1, y1) = place.line
    if y1 <= y0 or place.zone is None:
        return None
    for side, start, end in edges_of(place.zone):
        if side == "rake" and math.dist(start, (x1, y1)) < 1e-4 and end[1] < y1:
            area = box(x1 - wide, y1 - wide, x1 + wide, y1).intersection(place.zone.polygon)
            for hole in place.face.openings:
                area = area.difference(hole.polygon)
            patch = one(area)
            return patch if polygons(patch) else None
    return None


def patch_steps(place: Place, ctx: Context, detail: str, pieces: list[Piece]) -> Iterator[Step]:
    """Yield the step that puts on the patches of a top, when it has any."""
    mine = of_step(pieces, place, "patch")
    if not mine:
        return
    where = {"corner-patch": "round the corner", "peak-patch": "over the peak, cut to the slope"}
    words = " and ".join(dict.fromkeys(where[p.role] for p in mine))
    yield step(
        ctx,
        place,
        detail,
        "patch",
        f"Patch at the top of {place.face.id}, {words}: over the strips of both sides; roll.",
        [("strip", max(face_length(mine), 0.1))],
        pieces,
        needs=("strip",),
        limits=limits_of(ctx.catalog[mine[0].product or ""]),
    )
