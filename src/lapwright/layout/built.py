"""What hangs already: pieces and cuts of an earlier plan, fixed from now on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, cast

from lapwright.details.base import Cut, Piece
from lapwright.geometry import from_rings
from lapwright.layout.courses import BuiltCourse
from lapwright.layout.develop import Chain
from lapwright.scope.model import Built


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
