"""Pieces of definite shape, and runs cut into lengths."""

from __future__ import annotations

import math

from shapely import Polygon

from lapwright.catalog.model import Product
from lapwright.details.base import Cut, Part, Piece, PieceClaim, RunClaim
from lapwright.geometry import TOL_M, Point, box, quad


def lay_piece(claim: PieceClaim) -> tuple[list[Piece], list[Cut]]:
    """Return the pieces (one per part) and the cut (when it is cut from stock) of one claim."""
    cut = None
    if claim.flat is not None:
        if claim.product is None:
            raise ValueError(f"{claim.key}: a flat shape needs a product to cut it from")
        cut = claim.key
    pieces = []
    taken: set[str] = set()
    for i, part in enumerate(claim.parts):
        name = claim.key if i == 0 else f"{claim.key}/{part.plane}"
        if i and name in taken | {claim.key}:
            name = f"{claim.key}/{part.surface}-{part.plane}" if part.surface != claim.parts[0].surface else name
        while name in taken:
            name += "b"
        taken.add(name)
        facts = dict(claim.facts)
        if i == 0 and claim.quantity is not None:
            facts["quantity"] = claim.quantity
        pieces.append(
            Piece(
                id=name,
                surface=part.surface,
                plane=part.plane,
                polygon=part.polygon,
                product=claim.product,
                role=claim.role,
                layer=claim.layer,
                cut=cut,
                installed=0,
                step=claim.step,
                claim=claim.key,
                place=claim.place,
                held=claim.held,
                facts=facts,
            )
        )
    cuts = []
    if cut is not None and claim.flat is not None and claim.product is not None:
        cuts.append(Cut(cut, claim.product, claim.flat, claim.folds, tuple(p.id for p in pieces)))
    return pieces, cuts


def run_lengths(
    total: float, longest: float, lap: float, off: tuple[tuple[float, float], ...]
) -> list[tuple[float, float]]:
    """Return (from, to) along a run for each length, full lengths first, laps kept off the `off` intervals.

    total, longest, lap in metres, longest > lap. Fewest lengths; a lap that would fall into an `off`
    interval moves back to its start when that costs no more lengths, else stays.

    >>> run_lengths(5.0, 3.0, 0.1, ())
    [(0.0, 3.0), (2.9, 5.0)]
    """
    if total <= longest + 1e-9:
        return [(0.0, total)]
    out: list[tuple[float, float]] = []
    at = 0.0
    while total - at > longest + 1e-9:
        end = at + longest
        for a, b in off:
            if end - lap < b and end > a and a - at > max(0.3, 2 * lap):
                moved = a
                if math.ceil((total - moved) / (longest - lap)) <= math.ceil((total - end) / (longest - lap)):
                    end = moved
        out.append((at, end))
        at = round(end - lap, 6)
    out.append((at, total))
    return out


def lay_run(claim: RunClaim, product: Product, unit_m: float) -> tuple[list[Piece], list[Cut]]:
    """Return the pieces and cuts of a run, in the order they go on: each length with its legs folded off the low edge.

    From `start` to `end`; on a line that falls towards `end` from there, so that the upper lies over the lower.
    """
    (x0, y0), (x1, y1) = claim.start, claim.end
    total = math.hypot(x1 - x0, y1 - y0)
    longest = min(claim.max_m or math.inf, product.number("length_m") or math.inf)
    pieces: list[Piece] = []
    cuts: list[Cut] = []
    lengths = run_lengths(total, longest, claim.lap_m, claim.off)
    if y1 < y0 - TOL_M:
        lengths.reverse()
    for a, b in lengths:
        p: Point = (x0 + (x1 - x0) * a / total, y0 + (y1 - y0) * a / total)
        q: Point = (x0 + (x1 - x0) * b / total, y0 + (y1 - y0) * b / total)
        name = f"{claim.key}/x{round(a / unit_m)}"
        parts = [Part(claim.surface, "face", quad(p, q, claim.low, claim.high))]
        parts += [_leg(claim, plane, p, q, width) for plane, width, _ in claim.legs]
        developed = claim.high - claim.low + sum(w for _, w, _ in claim.legs)
        folds = []
        y = 0.0
        for _, width, angle in reversed(claim.legs):
            y += width
            folds.append((((0.0, y), (b - a, y)), angle))
        made = [
            Piece(
                id=name if i == 0 else f"{name}/{part.plane}{'' if i == 1 else i}",
                surface=part.surface,
                plane=part.plane,
                polygon=part.polygon,
                product=claim.product,
                role=claim.role,
                layer=claim.layer,
                cut=name,
                installed=0,
                step=claim.step,
                claim=claim.key,
                place=claim.place,
                held=claim.held,
                facts={**claim.facts, "along_m": a, "run_length_m": b - a},
            )
            for i, part in enumerate(parts)
        ]
        pieces += made
        cuts.append(Cut(name, claim.product, box(0, 0, b - a, developed), tuple(folds), tuple(m.id for m in made)))
    return pieces, cuts


def _leg(claim: RunClaim, plane: str, p: Point, q: Point, width: float) -> Part:
    """Return the polygon of a leg on another plane (see `Part` for each plane's coordinates)."""
    poly: Polygon
    if plane == "jamb":
        low, high = sorted((p[1], q[1]))
        poly = box(0, low, width, high)
    else:
        left, run = min(p[0], q[0]), math.hypot(q[0] - p[0], q[1] - p[1])
        # on a sloped run x is measured along the slope, from where its left end stands
        poly = (
            box(left, 0, left + run, width)
            if abs(q[0] - p[0]) > 1e-6
            else box(0, min(p[1], q[1]), width, max(p[1], q[1]))
        )
    return Part(claim.surface, plane, poly)  # type: ignore[arg-type]
