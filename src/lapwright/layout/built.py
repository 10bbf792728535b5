"""What hangs already: pieces and cuts of an earlier plan, fixed from now on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, cast

from lapwright.details.base import Claim, Cut, FieldClaim, HoleClaim, Piece
from lapwright.findings import Finding, Where
from lapwright.geometry import from_rings, merged, polygons
from lapwright.layout.courses import BuiltCourse
from lapwright.layout.develop import Chain
from lapwright.scope.model import Built

DRY_LAYERS = frozenset({"barrier", "strip", "film", "tape", "flashing", "existing"})  # what keeps boards dry


def built_pieces(built: Built | None) -> tuple[list[Piece], list[Cut]]:
    """Return the built pieces in the order they were put on, and their cuts, from plan.json rows."""
    if built is None:
        return [], []
    rows = sorted(cast("Sequence[Mapping[str, Any]]", built.pieces), key=lambda r: (r["installed"], r["id"]))
    pieces = [
        Piece(
            id=r["id"],
            surface=r["surface"],
            plane=r["plane"],
            polygon=from_rings(r["polygon"]),
            product=r["product"],
            role=r["role"],
            layer=r["layer"],
            cut=r["cut"],
            installed=r["installed"],
            step=r["step"],
            claim=r["facts"].get("claim", r["id"]),
            place=r["place"],
            held=r["held"],
            facts={**r["facts"], "built": True},
        )
        for r in rows
    ]
    cuts = [
        Cut(
            id=r["id"],
            product=r["product"],
            flat=from_rings(r["flat"]),
            folds=tuple(((tuple(f["segment"][0]), tuple(f["segment"][1])), f["angle_deg"]) for f in r["folds"]),
            pieces=tuple(p["id"] for p in rows if p["cut"] == r["id"]),
            stock=r["stock"],
            along_m=r["along_m"],
            across_m=r["across_m"],
            turned_deg=r["turned_deg"],
        )
        for r in cast("Sequence[Mapping[str, Any]]", built.cuts)
    ]
    return pieces, cuts


def built_courses(chain: Chain, pieces: Sequence[Piece]) -> list[BuiltCourse]:
    """Return the built course pieces of a chain as stretches in its developed plane."""
    by_cut: dict[str, list[Piece]] = {}
    for piece in pieces:
        if piece.role == "course" and piece.layer == chain.layer and piece.surface in chain.faces:
            by_cut.setdefault(piece.cut or piece.id, []).append(piece)
    out = []
    for mine in by_cut.values():
        spans = [
            (chain.offset(p.surface) + p.polygon.bounds[0], chain.offset(p.surface) + p.polygon.bounds[2]) for p in mine
        ]
        u0, u1 = min(s[0] for s in spans), max(s[1] for s in spans)
        if chain.ring and u1 - u0 > chain.length / 2 and len(mine) > 1:  # it runs across the seam
            spans = [(a + chain.length, b + chain.length) if a < chain.length / 2 else (a, b) for a, b in spans]
            u0, u1 = min(s[0] for s in spans), max(s[1] for s in spans)
        facts = mine[0].facts
        out.append(BuiltCourse(float(facts["bottom_m"]), float(facts["top_m"]), u0, u1))
    return out


def snapped_tops(chain: Chain, built: Built | None) -> list[float]:
    """Return the heights of the chain's course lines that are snapped already."""
    if built is None:
        return []
    rows = cast("Sequence[Mapping[str, Any]]", built.lines)
    return sorted({float(r["y_m"]) for r in rows if r["layer"] == chain.layer and r["surface"] in chain.faces})


def check_built(built: Sequence[Piece], pieces: Sequence[Piece], claims: Sequence[Claim]) -> list[Finding]:
    """Return what no longer fits: a built course over an opening that moved there, wall left bare where one moved away.

    built: the pieces that hang; pieces: all of them; claims: the job's as it stands now.
    """
    if not built:
        return []
    out: list[Finding] = []
    holes: dict[str, list[HoleClaim]] = {}
    for claim in claims:
        if isinstance(claim, HoleClaim) and claim.layer == "barrier":
            holes.setdefault(claim.surface, []).append(claim)
    for piece in built:
        if piece.role != "course" or piece.layer != "barrier":
            continue
        for hole in holes.get(piece.surface, ()):
            if piece.polygon.intersection(hole.polygon.buffer(-0.003)).area > 1e-4:
                x0, y0, *_ = hole.polygon.bounds
                what = f"{piece.id} hangs already and covers {hole.place}."
                fix = f"Cut {hole.place} out of it on the wall, then set its strips; they lie over that course."
                where = Where(surface=piece.surface, thing=hole.place, x_m=x0, y_m=y0)
                out.append(Finding("built.covers", "warn", what, "It was hung before this was planned.", fix, where))
    hung_faces = {p.surface for p in built if p.role == "course"}
    for claim in claims:
        if not isinstance(claim, FieldClaim) or claim.layer != "barrier" or claim.surface not in hung_faces:
            continue
        sheets = [
            p.polygon.buffer(0.002)
            for p in pieces
            if p.surface == claim.surface and p.plane == "face" and p.layer in DRY_LAYERS
        ]
        cut = [h.polygon.buffer(0.004, join_style="mitre") for h in holes.get(claim.surface, ())]
        for bare in polygons(claim.region.difference(merged([*sheets, *cut]))):
            if bare.area < 1e-4:
                continue
            x0, y0, *_ = bare.bounds
            what = f"{claim.surface} is bare over {bare.area:.3f} m2: an opening was there when the course was cut."
            fix = "Patch it with sheet that laps 6 in all round, its top edge under the course above."
            where = Where(surface=claim.surface, thing=claim.place, x_m=x0, y_m=y0)
            out.append(Finding("built.bare", "stop", what, "Water gets to the boards there.", fix, where))
    return out
