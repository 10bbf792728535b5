"""Units in a thick wall as plan.json holds them: where each sits, what follows, and its sections at sill, jamb and head.

A section is the wall cut through: the pieces on the face where the cutting line meets them, at the depth of their layer;
the pieces that lie in the reveal by their own sections; layers that stand, unit and frame as the survey gives them.
Points are (depth in from the barrier's plane, distance from the rough edge into the opening), metres.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from shapely import LineString

from lapwright.details.base import Piece, Place
from lapwright.details.depths import thickness_of
from lapwright.details.egress import way_out
from lapwright.details.opening_depth import PLAIN_REACH_M, WHY, Seat, seat_of
from lapwright.details.openings import OpeningDetail
from lapwright.plan.graph import Plan
from lapwright.plan.rounding import figure, length
from lapwright.survey.model import Opening

AROUND_M = 9.5 * 0.0254  # of the wall beside the opening that a section shows; own choice
SHEETS = ("barrier", "strip", "film", "tape")
Point = tuple[float, float]


def reveals(plan: Plan) -> list[dict[str, Any]]:
    """Return one row per opening round which the wall moves out more than plain trim covers."""
    by_surface: dict[str, list[Piece]] = {}
    for piece in plan.layout.pieces:
        by_surface.setdefault(piece.surface, []).append(piece)
    out = []
    for place, detail in plan.places:
        if not isinstance(detail, OpeningDetail) or not isinstance(place.thing, Opening):
            continue
        seat = seat_of(place, plan.context, {k: plan.context.setting(detail, k) for k in ("sill_slope", "mid_share")})
        if seat.deep or seat.reach_m > PLAIN_REACH_M:
            out.append(_row(plan, place, place.thing, seat, by_surface.get(place.face.id, [])))
    return out


def _row(plan: Plan, place: Place, opening: Opening, seat: Seat, pieces: list[Piece]) -> dict[str, Any]:
    x0, sill, x1, head = opening.box
    clear = way_out(opening, place.face, plan.context, seat)
    left = seat.left_over(x1 - x0, head - sill)
    mine = [p for p in pieces if p.place == place.id]
    return {
        "place": place.id,
        "surface": place.face.id,
        "opening": opening.id,
        "position": seat.position,
        "why": WHY[seat.why],
        "plane_m": length(seat.plane_m),
        "face_m": length(seat.depths.face_m),
        "trim_face_m": length(seat.trim_face_m),
        "reach_m": length(seat.reach_m),
        "in_m": length(seat.in_m),
        "return_m": length(seat.return_m),
        "slope_deg": figure(seat.slope_deg),
        "flashing_deg": figure(seat.flashing_deg),
        "buck": {"product": seat.buck.id, "title": seat.buck.title, "thickness_m": length(seat.board_m)} if seat.buck else None,
        "rough_m": [length(x1 - x0), length(head - sill)],
        "left_m": [length(v) for v in left],
        "clear_m": [length(clear.width_m), length(clear.height_m)],
        "clear_from": clear.from_what,
        "layers": [_layer(plan, s.layer, s.inner_m, s.outer_m) for s in reversed(seat.depths.slabs)],
        "inside": list(_inside(plan, place, seat)),
        "unit": _unit(plan, opening, seat),
        "metal": [
            {"role": role, "legs_m": [length(v) for v in legs]}
            for role, legs in dict.fromkeys((p.role, tuple(p.facts["legs_m"])) for p in mine if "legs_m" in p.facts)
        ],
        "guessed": list(seat.guessed),
        "sections": {side: _section(plan, place, opening, seat, pieces, side) for side in ("head", "jamb", "sill")},
    }


def _layer(plan: Plan, layer: Any, inner: float, outer: float) -> dict[str, Any]:
    product = plan.catalog.products.get(layer.product or "")
    title = product.title if product else (layer.material or layer.layer).replace("-", " ")
    return {"layer": layer.layer, "title": title, "from_m": length(inner), "to_m": length(outer)}


def _unit(plan: Plan, opening: Opening, seat: Seat) -> dict[str, Any]:
    """Return the unit's frame: face width, depth, shims, flange; sill_m, head_m: where shims begin, from the rough edge."""
    unit = seat.unit
    title = "old unit, kept" if opening.state == "kept" else unit.title
    flange = unit.number("flange_m") or 0.0
    return {
        "product": None if opening.state == "kept" else unit.id,
        "title": title,
        "frame_m": length(unit.number("frame_m") or 2 * 0.0254),
        "depth_m": length(seat.frame_depth_m),
        "shim_m": length(0.0 if seat.position == "old" else unit.number("shim_gap_m") or 0.0),
        "flange_m": length(flange if seat.position in ("in", "out") else 0.0),
        "sill_m": length(seat.sill_loss_m),
        "head_m": length(seat.head_loss_m),
    }


def _inside(plan: Plan, place: Place, seat: Seat) -> Iterator[dict[str, Any]]:
    """Yield boards and studs, metres in from the barrier's plane."""
    at = 0.0
    for layer in place.assembly.layers if place.assembly else ():
        if layer.layer == "sheathing":
            thick = thickness_of(layer, plan.catalog) or 0.75 * 0.0254
            yield _layer(plan, layer, at, at + thick)
            at += thick
    yield {"layer": "framing", "title": f"framing {place.face.framing.stud or ''}".strip(), "from_m": length(at), "to_m": length(seat.in_m)}


def _section(plan: Plan, place: Place, opening: Opening, seat: Seat, pieces: list[Piece], side: str) -> list[dict[str, Any]]:
    """Return what a cut meets at one side, innermost first: {piece, layer, role, product, kind area | line, points}."""
    x0, sill, x1, head = opening.box
    mid_x, mid_y = (x0 + x1) / 2, (sill + head) / 2
    line = {
        "head": LineString([(mid_x, head - AROUND_M), (mid_x, head + AROUND_M)]),
        "sill": LineString([(mid_x, sill - AROUND_M), (mid_x, sill + AROUND_M)]),
        "jamb": LineString([(x0 - AROUND_M, mid_y), (x0 + AROUND_M, mid_y)]),
    }[side]

    def off(x: float, y: float) -> float:
        return {"head": head - y, "sill": y - sill, "jamb": x - x0}[side]

    out: list[dict[str, Any]] = []

    def add(piece: Piece, kind: str, points: list[Point]) -> None:
        out.append(
            {
                "piece": piece.id, "layer": piece.layer, "role": piece.role, "product": piece.product, "kind": kind,
                "points": [[length(a), length(b)] for a, b in points],
            }
        )  # fmt: skip

    drawn: set[str] = set()
    for piece in sorted(pieces, key=lambda p: p.installed):
        if piece.plane == "face":
            section = piece.facts.get("section")
            here = piece.polygon.intersection(line)
            if here.is_empty or here.length < 1e-4:
                continue
            if section is not None:
                if piece.claim not in drawn and piece.place == place.id and side in ("head", "sill"):
                    add(piece, "line", list(section))
                    drawn.add(piece.claim)
                continue
            for part in getattr(here, "geoms", [here]):
                (ax, ay), (bx, by) = part.coords[0], part.coords[-1]
                span = sorted((off(ax, ay), off(bx, by)))
                depth = _depth(piece, seat)
                if depth is None:
                    continue
                low, high = depth
                if high - low < 1e-6:
                    add(piece, "line", [(-low, span[0]), (-low, span[1])])
                else:
                    add(piece, "area", [(-high, span[0]), (-low, span[0]), (-low, span[1]), (-high, span[1])])
        elif piece.place == place.id and piece.plane == side and not (side == "jamb" and "right" in piece.claim):
            section = piece.facts.get("section")
            if section is not None:
                if piece.claim not in drawn:
                    add(piece, "area" if "thick_m" in piece.facts else "line", list(section))
                    drawn.add(piece.claim)
            elif piece.layer in SHEETS:
                a0, b0, a1, b1 = piece.polygon.bounds
                low, high = (a0, a1) if side == "jamb" else (b0, b1)
                add(piece, "line", [(low, 0.0), (high, 0.0)])
    return out


def _depth(piece: Piece, seat: Seat) -> tuple[float, float] | None:
    """Return (inner, outer) depth of a piece on the face, metres out from the barrier; None for what a section leaves out."""
    if piece.facts.get("on"):  # in front of the barrier: of these only tape lies flat on what is beside the unit
        return (seat.plane_m, seat.plane_m) if piece.layer == "tape" and piece.role == "flange-tape" else None
    if piece.layer in (*SHEETS, "flashing"):
        return 0.0, 0.0
    slabs = [s for s in seat.depths.slabs if s.layer.layer == piece.layer]
    if piece.layer == "insulation":
        at = int(piece.facts.get("layer_no", 1)) - 1
        return (slabs[at].inner_m, slabs[at].outer_m) if at < len(slabs) else None
    if piece.layer == "cladding" and piece.role != "siding":
        return (seat.depths.trim_m, seat.depths.trim_m + seat.casing_m) if piece.role in ("casing", "corner-board", "end-board") else None
    if piece.layer in ("furring", "mat", "cladding") and slabs and not piece.role.startswith("screen"):
        return slabs[0].inner_m, slabs[-1].outer_m
    return None
