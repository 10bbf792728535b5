"""Course pieces: each band of each chain cut into pieces, notched, folded round corners, named.

Ids come from the place: face, layer, course, and the left edge in whole inches (centimetres in a
metric job) from the face's left end.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import shapely
from shapely import LineString, Polygon
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from lapwright.catalog.model import Product
from lapwright.details.base import ChalkLine, Cut, FieldClaim, Piece
from lapwright.findings import Finding, Where
from lapwright.geometry import TOL_M, box, polygons, snap
from lapwright.layout.develop import Chain, chain_rules, seam_pair
from lapwright.layout.joints import Reach, seam, split
from lapwright.layout.lines import MIN_COURSE_M, course_lines
from lapwright.memo import Memo, mark

HAIR_M = 5e-4  # a sliver narrower than half a millimeter is overlay noise, not sheet
HOLD_M = 25 * 12 * 0.0254  # 20-25 ft of 5 ft sheet for two people; common practice, no source


@dataclass
class Courses:
    """What the courses of one chain came to."""

    pieces: list[Piece] = field(default_factory=list)
    cuts: list[Cut] = field(default_factory=list)
    lines: list[ChalkLine] = field(default_factory=list)
    bound_m: float = 0.0
    findings: list[Finding] = field(default_factory=list)


@dataclass(frozen=True)
class BuiltCourse:
    """A stretch of course already on the wall, in developed coordinates."""

    bottom: float
    top: float
    u0: float
    u1: float

    def moved(self, by: float) -> BuiltCourse:
        """Return the stretch one turn of a ring further on, or back."""
        return BuiltCourse(self.bottom, self.top, self.u0 + by, self.u1 + by)


def lay_courses(
    chain: Chain,
    product: Product,
    grid_m: float,
    unit_m: float,
    built: Sequence[BuiltCourse] = (),
    snapped: Sequence[float] = (),
    memo: Memo | None = None,
) -> Courses:
    """Return pieces, cuts and chalk lines of one chain.

    grid_m: grid of chalk-line heights; unit_m: length unit of ids (1 in or 1 cm); built: what hangs already;
    snapped: heights of lines that are on the wall already; memo: courses of an earlier call, kept one by one.
    """
    memo = memo if memo is not None else Memo()
    width = product.needed("width_m")
    reach = Reach(product.needed("length_m"), product.number("hold_length_m") or HOLD_M)
    chain, said = _usable(chain, width, min(reach.roll_m, reach.hold_m))
    fixed = tuple(sorted({(b.bottom, b.top) for b in built} | {(t, t) for t in snapped}))
    bands, bound = course_lines(chain, width, grid_m, fixed)
    out = Courses(bound_m=bound, findings=said)
    whole = chain.whole()
    doubled = seam_pair(whole, chain.length) if chain.ring else whole
    slits = seam_pair(chain.slits, chain.length) if chain.ring else chain.slits
    earlier: tuple[float, ...] = ()
    same = chain_rules(chain), product.id, reach, unit_m
    for number, band in enumerate(bands, 1):
        hung = tuple(b for b in built if abs(b.top - band[1]) < 2e-3)
        snapped_here = chain.rule.course_lap_m > 0 or number < len(bands)
        key = same, number, band, hung, earlier, snapped_here, *_in_band(chain, whole, band)

        def make(
            n: int = number, b: tuple[float, float] = band, h: tuple[BuiltCourse, ...] = hung,
            e: tuple[float, ...] = earlier, snap_it: bool = snapped_here,
        ) -> tuple[Courses, tuple[float, ...]]:  # fmt: skip
            made, joints = _band(chain, product, reach, n, b, whole, doubled, slits, h, e, unit_m)
            if snap_it:
                _snap(chain, made, n, b, whole)
            return made, joints

        one, earlier = memo.get("band", key, make)
        out.pieces += one.pieces
        out.cuts += one.cuts
        out.lines += one.lines
    return out


def _in_band(chain: Chain, whole: BaseGeometry, band: tuple[float, float]) -> tuple[Hashable, ...]:
    """Return what of a chain's shapes and bands can matter to a course between two heights, as a key."""
    low, high = band[0] - 0.01, band[1] + 0.01
    u0, u1 = whole.bounds[0] - 1, whole.bounds[2] + 1
    near = tuple(c for c in chain.clears if c[4] > low and c[3] < high)
    things = tuple(o for o in chain.obstructions if o[3] > low and o[1] < high)
    shapes = (mark(shapely.clip_by_rect(g, u0, low, u1, high)) for g in (whole, chain.slits) if not g.is_empty)
    return (near, things, *shapes)


def _band(
    chain: Chain,
    product: Product,
    reach: Reach,
    number: int,
    band: tuple[float, float],
    whole: BaseGeometry,
    doubled: BaseGeometry,
    slits: BaseGeometry,
    hung: Sequence[BuiltCourse],
    earlier: Sequence[float],
    unit_m: float,
) -> tuple[Courses, tuple[float, ...]]:
    """Return the pieces and cuts of one course, and the centers of its end laps."""
    out = Courses()
    joints_here: list[float] = []
    around = [*hung, *(b.moved(k) for b in hung for k in (-chain.length, chain.length) if chain.ring)]
    half = math.ceil(chain.rule.end_lap_m / 2 / TOL_M - 1e-6) * TOL_M
    for start, end, closed in _stretches(chain, whole, band, earlier):
        for left, right, joined in _free(start, end, around, chain.rule.end_lap_m, closed):
            cuts_at = split(chain, left, right, band, reach, earlier, joined)
            joints_here += cuts_at + ([left] if joined[0] else [])
            edges = [left, *cuts_at, right]
            for i, (a, b) in enumerate(itertools.pairwise(edges)):
                a1 = round(a, 4) - half if i > 0 or joined[0] else a
                b1 = round(b, 4) + half if i < len(edges) - 2 or joined[1] else b
                _make(chain, product, out, number, band, doubled, slits, a1, b1, unit_m)
    return out, tuple(joints_here)


def _usable(chain: Chain, width_m: float, length_m: float) -> tuple[Chain, list[Finding]]:
    """Return the chain with laps that leave something of each sheet in sight, and a `stop` where they did not.

    The pieces then show half the roll lapped, so that there is something to look at; the finding says not to build it.
    """
    rule = chain.rule
    asked = {"course": (rule.course_lap_m, width_m), "end": (rule.end_lap_m, length_m)}
    found = [
        Finding(
            "lap.too_wide",
            "stop",
            f"The {kind} lap of {lap * 1000:.0f} mm leaves nothing of a sheet {of * 1000:.0f} mm {side}.",
            "Each course must rise above the one below it.",
            f"Ask for a smaller lap under settings, or choose a {'wider' if kind == 'course' else 'longer'} roll.",
            Where(surface=rule.surface, thing=rule.place),
            "the roll's size in the catalog",
        )
        for (kind, (lap, of)), side in zip(asked.items(), ("wide", "long"), strict=True)
        if lap > of - MIN_COURSE_M
    ]
    if not found:
        return chain, []
    laps: dict[str, Any] = {f"{kind}_lap_m": min(lap, of / 2) for kind, (lap, of) in asked.items()}
    return replace(chain, claims=tuple(replace(c, **laps) for c in chain.claims)), found


def _stretches(
    chain: Chain, whole: BaseGeometry, band: tuple[float, float], earlier: Sequence[float]
) -> list[tuple[float, float, bool]]:
    """Return (start, end, runs all the way round) of each connected stretch of a band."""
    parts = polygons(whole.intersection(box(-1.0, band[0], chain.length + 1.0, band[1])))
    spans: list[list[float]] = []
    for part in sorted(parts, key=lambda p: p.bounds[0]):
        u0, _, u1, _ = part.bounds
        if spans and u0 <= spans[-1][1] + TOL_M and _touch(parts, part, spans[-1]):
            spans[-1][1] = max(spans[-1][1], u1)
        else:
            spans.append([u0, u1])
    if chain.ring and spans:
        first, last = spans[0], spans[-1]
        if first[0] < TOL_M and last[1] > chain.length - TOL_M:
            if len(spans) == 1:
                at = seam(chain, band, earlier)
                return [(at, at + chain.length, True)]
            last[1] = chain.length + first[1]
            spans = spans[1:]
    return [(a, b, False) for a, b in spans]


def _touch(parts: Sequence[Polygon], part: Polygon, span: Sequence[float]) -> bool:
    """Return whether two polygons of a band overlap in u (a piece with notches hides behind another)."""
    return bool(part.bounds[0] < span[1] - TOL_M)


def _free(
    start: float, end: float, hung: Sequence[BuiltCourse], lap: float, closed: bool
) -> list[tuple[float, float, tuple[bool, bool]]]:
    """Return what is left of a stretch beside the built pieces, with which ends lap onto something."""
    free = [(start, end, (closed, closed))]
    for piece in sorted(hung, key=lambda b: b.u0):
        nxt: list[tuple[float, float, tuple[bool, bool]]] = []
        for a, b, (ja, jb) in free:
            if piece.u1 <= a + TOL_M or piece.u0 >= b - TOL_M:
                nxt.append((a, b, (ja, jb)))
                continue
            if piece.u0 - a > lap:
                nxt.append((a, piece.u0 + lap / 2, (ja, True)))
            if b - piece.u1 > lap:
                nxt.append((piece.u1 - lap / 2, b, (True, jb)))
        free = nxt
    return free


def _make(
    chain: Chain,
    product: Product,
    out: Courses,
    number: int,
    band: tuple[float, float],
    doubled: BaseGeometry,
    slits: BaseGeometry,
    u0: float,
    u1: float,
    unit_m: float,
) -> None:
    """Add the pieces and cuts of one stretch between two ends."""
    sheet = doubled.intersection(box(u0, band[0], u1, band[1]))
    own = chain.regions
    # on the contract's grid, so that a neck that is not there on paper is none here either
    # normal form, because where a ring starts depends on what stands elsewhere on the house
    whole = shapely.normalize(snap(sheet.difference(slits) if not slits.is_empty else sheet, TOL_M))
    for part in polygons(whole):
        made: list[Piece] = []
        folds: list[tuple[tuple[tuple[float, float], tuple[float, float]], float]] = []
        left, low, right, high = part.bounds
        if min(right - left, high - low) < HAIR_M:
            continue
        for face, offset, width, turn in _faces_under(chain, left, right):
            edge = offset + width
            if left + TOL_M < edge < right - TOL_M:
                for y0, y1 in _verticals(part, edge):
                    folds.append((((edge - left, y0 - low), (edge - left, y1 - low)), turn))
            here = part.intersection(box(offset, low - 1, offset + width, high + 1))
            # cut to the face's own claims: a hair of the neighbor's sheet is left where an offset is off the grid
            for local in polygons(snap(translate(here, -offset, 0).intersection(own[face]), TOL_M)):
                made.append(_piece(chain, product, number, band, face, local, out, made, unit_m))
        if not made:
            continue
        cut = Cut(
            id=made[0].id,
            product=product.id,
            flat=snap(translate(part, -left, -low), TOL_M),
            folds=tuple(folds),
            pieces=tuple(p.id for p in made),
        )
        out.cuts.append(cut)
        out.pieces += [Piece(**{**p.__dict__, "cut": cut.id}) for p in made]


def _faces_under(chain: Chain, left: float, right: float) -> list[tuple[str, float, float, float]]:
    """Return (face, offset, width, turn) of each face that the developed interval touches, in order."""
    out = []
    for shift in (0.0, chain.length) if chain.ring else (0.0,):
        for face, offset, width, turn in zip(chain.faces, chain.offsets, chain.widths, chain.turns, strict=True):
            a = offset + shift
            if a < right - TOL_M and a + width > left + TOL_M:
                out.append((face, a, width, turn))
    return out


def _verticals(part: Polygon, u: float) -> list[tuple[float, float]]:
    """Return the heights over which a vertical line at u runs through a piece."""
    _, y0, _, y1 = part.bounds
    cut = part.intersection(LineString([(u, y0 - 1), (u, y1 + 1)]))
    lines = [g for g in getattr(cut, "geoms", [cut]) if isinstance(g, LineString) and g.length > TOL_M]
    return sorted((g.bounds[1], g.bounds[3]) for g in lines)


def _piece(
    chain: Chain,
    product: Product,
    number: int,
    band: tuple[float, float],
    face: str,
    local: Polygon,
    out: Courses,
    made: Sequence[Piece],
    unit_m: float,
) -> Piece:
    x = round(local.bounds[0] / unit_m)
    layer = chain.layer if face in chain.plain else f"{chain.layer}-{chain.product}"
    base = f"{face}/{layer}/c{number:02d}/x{x}"
    taken = {p.id for p in out.pieces} | {p.id for p in made}
    name, letter = base, "b"
    while name in taken:
        name, letter = f"{base}{letter}", chr(ord(letter) + 1)
    claim = _claim_at(chain, face, local)
    return Piece(
        id=name,
        surface=face,
        plane="face",
        polygon=local,
        product=product.id,
        role="course",
        layer=chain.layer,
        cut=None,
        installed=0,
        step=f"{claim.place}/course-{number}",
        claim=claim.key,
        place=claim.place,
        held=claim.held,
        facts={"course": number, "bottom_m": band[0], "top_m": band[1], "chain": chain.key},
    )


def _claim_at(chain: Chain, face: str, local: Polygon) -> FieldClaim:
    mine = [c for c in chain.claims if c.surface == face]
    return max(mine, key=lambda c: c.region.intersection(local).area) if len(mine) > 1 else mine[0]


def _snap(chain: Chain, out: Courses, number: int, band: tuple[float, float], whole: BaseGeometry) -> None:
    """Add the chalk line of a course's top edge on every face it runs over."""
    for face, offset, width in zip(chain.faces, chain.offsets, chain.widths, strict=True):
        # where the wall still stands at that height: under a rake that is less than the course is wide
        at = whole.intersection(LineString([(offset, band[1] - 1e-3), (offset + width, band[1] - 1e-3)]))
        spans = [g.bounds for g in getattr(at, "geoms", [at]) if g.length > TOL_M]
        if not spans:
            continue
        out.lines.append(
            ChalkLine(
                face,
                chain.layer,
                band[1],
                min(b[0] for b in spans) - offset,
                max(b[2] for b in spans) - offset,
                f"top edge of course {number}",
            )
        )
