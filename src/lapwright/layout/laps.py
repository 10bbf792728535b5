"""Laps: where two sheets of one plane of drainage overlap, and which of them lies over the other.

Depth is a relation between two pieces where they overlap and has no global order: a strip set in
April lies over the course that is tucked beneath its loose edge in June. The rules for two pieces, first
match wins; 1 to 3 are firm:

1. a claim says so (`over`, `under`);
2. two courses: the higher lies over the lower, whatever the time (in one course rule 4 holds);
3. a course and a piece that says in which region it lies over courses (`over_field`): over it there,
   under it elsewhere (a piece whose top is tucked into a slit in old felt: under the felt there); of two such pieces, where a course runs between them, the one over it lies over the other;
4. the later lies over the earlier, and a piece that a firm rule tucks beneath an earlier one goes, at that
   spot, beneath everything that already lies on that one.

At any spot that is what happens on the wall: sheets are put on a stack one after another, each on top
unless it is tucked.

How wide a tie-in lap has to be: what a claim's facts say (`lap_over_m` where it lies over the other,
`lap_under_m` where under, `lap_m` for both), else 2 in.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lapwright.details.base import Lap, LapKind, Piece, PieceClaim, RunClaim
from lapwright.details.shapes import SLIT_M
from lapwright.findings import Finding, Where
from lapwright.geometry import SLIVER_M2, TOL_M, as_multi, merged, polygons, snap
from lapwright.lengths import show_both
from lapwright.memo import Memo, mark

# Layers that shed water in one plane; a mat or a cladding over them is another plane, not a lap.
WATER_LAYERS = frozenset({"barrier", "strip", "film", "tape", "flashing", "unit", "existing"})
MAT_LAYERS = frozenset({"mat"})
# sheets of one group lie on one another and have laps; the retarder of a floor is a group of its own
GROUPS = {**dict.fromkeys(WATER_LAYERS, "water"), **dict.fromkeys(MAT_LAYERS, "mat"), "vapor": "vapor"}
TIE_LAP_M = 0.0508  # upper over lower at least 2 in: IRC R703.2
KNIFE_M = 2 * SLIT_M
MIN_LAP_M = 0.003  # two edges that touch within a knife's width are a butt, not a lap

Claims = Mapping[str, PieceClaim | RunClaim]
Rows = dict[tuple[int, int], list[tuple[int, int, BaseGeometry]]]


def all_laps(
    pieces: Sequence[Piece],
    claims: Claims,
    course_lap: Mapping[str, float],
    end_lap: Mapping[str, float],
    memo: Memo | None = None,
) -> list[Lap]:
    """Return one lap per connected overlap, surface by surface, ids from the two pieces.

    course_lap, end_lap: asked laps by chain key (from the field claims), metres.
    """
    memo = memo if memo is not None else Memo()
    out: list[Lap] = []
    by_plane: dict[tuple[str, str], list[Piece]] = {}
    for piece in pieces:
        if piece.plane != "face":
            continue
        # tape on the outside of foam and what stands round a unit in a buck lap nothing in the barrier's plane
        group = GROUPS.get(piece.layer, "") if not piece.facts.get("on") else ""
        if group:
            by_plane.setdefault((piece.surface, group), []).append(piece)
    for (surface, _), mine in by_plane.items():
        key = (surface, tuple(_key(p, claims, course_lap, end_lap) for p in mine))
        out += memo.get("laps", key, lambda s=surface, m=mine: _on_surface(s, m, claims, course_lap, end_lap))  # type: ignore[misc]
    return out


def _key(piece: Piece, claims: Claims, course_lap: Mapping[str, float], end_lap: Mapping[str, float]) -> Hashable:
    """Return everything about a piece that its laps depend on; its place in time is its place in the key."""
    claim = claims.get(piece.claim)
    chain = str(piece.facts.get("chain", ""))
    rule: tuple[Hashable, ...] = ()
    if claim is not None:
        lap = claim.lap_m if isinstance(claim, RunClaim) else 0.0
        facts = tuple(claim.facts.get(k) for k in ("lap_m", "lap_over_m", "lap_under_m", "tucked_above_m"))
        rule = (claim.over, claim.under, mark(claim.over_field), claim.over_field is None, lap, facts)
    course = (piece.facts.get("course"), piece.facts.get("bottom_m"), piece.facts.get("top_m"))
    laps = (chain, course_lap.get(chain), end_lap.get(chain))
    return (
        piece.id,
        mark(piece.polygon),
        piece.role,
        piece.layer,
        piece.cut,
        piece.held,
        piece.claim,
        course,
        laps,
        rule,
    )


def _on_surface(
    surface: str, mine: Sequence[Piece], claims: Claims, course_lap: Mapping[str, float], end_lap: Mapping[str, float]
) -> list[Lap]:
    shapes = np.array([p.polygon for p in mine], dtype=object)
    tree = shapely.STRtree(shapes)
    left, right = tree.query(shapes, predicate="intersects")
    keep = left < right
    left, right = left[keep], right[keep]
    boxes = shapely.bounds(shapes)
    sides = np.minimum(boxes[left, 2:], boxes[right, 2:]) - np.maximum(boxes[left, :2], boxes[right, :2])
    keep = sides[:, 0] * sides[:, 1] > 1e-5  # no more in common than their boxes have: most only touch
    left, right = left[keep], right[keep]
    order = np.lexsort((right, left))
    left, right = left[order], right[order]
    common = shapely.intersection(shapes[left], shapes[right])
    big = shapely.area(common) > 1e-5
    pairs = {
        (int(i), int(j)): as_multi(area)
        for i, j, area in zip(left[big], right[big], common[big], strict=True)
        if mine[int(i)].cut is None or mine[int(i)].cut != mine[int(j)].cut
    }
    out: list[Lap] = []
    for found in stacked(mine, pairs, claims).values():
        rows: list[Lap] = []
        for i, j, where in found:
            over, under = mine[i], mine[j]
            for part in polygons(snap(where, TOL_M)):
                got = _width(part, over, under)
                if got < MIN_LAP_M:
                    continue
                kind = _kind(over, under)
                asked = _asked(kind, over, under, claims, course_lap, end_lap)
                rows.append(Lap("", over.id, under.id, surface, part, kind, asked, got, over.held))
        for n, lap in enumerate(rows):
            name = f"{lap.over} > {lap.under}" + (f" #{n + 1}" if len(rows) > 1 else "")
            out.append(replace(lap, id=name))
    return out


def stacked(mine: Sequence[Piece], pairs: Mapping[tuple[int, int], BaseGeometry], claims: Claims) -> Rows:
    """Return for each overlapping pair of pieces (indexes) the rows (over, under, where), in the order of `pairs`."""
    rows: Rows = {}
    near: dict[int, list[int]] = {}
    firm: set[tuple[int, int]] = set()
    for (i, j), area in pairs.items():
        given = _ruled(mine[i], mine[j], area, claims)
        if given is not None:
            firm.add((i, j))
            rows[i, j] = [(i, j, w) if over else (j, i, w) for over, w in given if not w.is_empty]
        else:
            rows[i, j] = [(i, j, area) if _time(mine[i]) > _time(mine[j]) else (j, i, area)]
        near.setdefault(i, []).append(j)
        near.setdefault(j, []).append(i)
    _through_courses(mine, pairs, rows, firm, near)
    for x in sorted(near, key=lambda n: _time(mine[n])):
        earlier = [n for n in near[x] if _time(mine[n]) < _time(mine[x])]
        tucks = [
            (over, where)
            for n in earlier
            if _pair(x, n) in firm
            for over, under, where in rows[_pair(x, n)]
            if under == x
        ]
        for t in earlier if tucks else ():
            if _pair(x, t) in firm:
                continue
            beneath = merged(
                as_multi(where.intersection(on))
                for s, where in tucks
                for over, _, on in rows.get(_pair(s, t), ())
                if over == t
            )
            area = pairs[_pair(x, t)]
            beneath = as_multi(area.intersection(beneath))
            if beneath.area > SLIVER_M2:
                rows[_pair(x, t)] = [(x, t, as_multi(area.difference(beneath))), (t, x, beneath)]
    return rows


def _through_courses(
    mine: Sequence[Piece],
    pairs: Mapping[tuple[int, int], BaseGeometry],
    rows: Rows,
    firm: set[tuple[int, int]],
    near: Mapping[int, Sequence[int]],
) -> None:
    """Order two pieces that are no courses by the courses that run between them (rule 3); changes rows and firm."""
    courses = {n: [c for c in near[n] if mine[c].role == "course"] for n in near}
    sides: dict[tuple[int, int], bool | None] = {}  # (piece, course) -> over it, under it, or (None) both
    for n, around in courses.items():
        for c in around:
            overs = {over == n for over, _, _ in rows[_pair(n, c)]}
            if True in overs and _pair(n, c) not in firm:
                continue  # put on after the course, perhaps tucked: the stack tells
            sides[n, c] = overs.pop() if len(overs) == 1 else None
    for (i, j), area in pairs.items():
        if (i, j) in firm or mine[i].role == "course" or mine[j].role == "course":
            continue
        between = [c for c in courses[i] if (i, c) in sides and (j, c) in sides]
        between = [c for c in between if sides[i, c] is None or sides[j, c] is None or sides[i, c] != sides[j, c]]
        if not between:
            continue
        i_over, j_over = (
            merged(
                as_multi(top.intersection(low))
                for c in between
                for over, _, top in rows[_pair(a, c)]
                if over == a
                for _, under, low in rows[_pair(b, c)]
                if under == b
            )
            for a, b in ((i, j), (j, i))
        )
        i_over, j_over = as_multi(area.intersection(i_over)), as_multi(area.intersection(j_over).difference(i_over))
        if i_over.area + j_over.area <= SLIVER_M2:
            continue
        if _time(mine[i]) > _time(mine[j]):
            i_over = as_multi(area.difference(j_over))
        else:
            j_over = as_multi(area.difference(i_over))
        rows[i, j] = [r for r in ((i, j, i_over), (j, i, j_over)) if not r[2].is_empty]
        firm.add((i, j))


def _pair(i: int, j: int) -> tuple[int, int]:
    return (i, j) if i < j else (j, i)


def _time(piece: Piece) -> tuple[int, str]:
    return piece.installed, piece.id


def _ruled(a: Piece, b: Piece, area: BaseGeometry, claims: Claims) -> list[tuple[bool, BaseGeometry]] | None:
    """Return (whether a lies over b, where) by the firm rules, or None when only the time decides."""
    ca, cb = claims.get(a.claim), claims.get(b.claim)
    if (ca and b.claim in ca.over) or (cb and a.claim in cb.under):
        return [(True, area)]
    if (cb and a.claim in cb.over) or (ca and b.claim in ca.under):
        return [(False, area)]
    if a.role == "course" and b.role == "course" and a.layer == b.layer:
        if a.facts["course"] != b.facts["course"]:
            return [(a.facts["bottom_m"] > b.facts["bottom_m"], area)]
        return None
    if (a.role == "course") != (b.role == "course"):
        claim = cb if a.role == "course" else ca
        if claim is not None and claim.over_field is not None:
            strip_is_a = b.role == "course"
            if claim.over_field.is_empty:
                return [(not strip_is_a, area)]
            over, under = area.intersection(claim.over_field), area.difference(claim.over_field)
            return [(strip_is_a, over), (not strip_is_a, under)]
    if (a.role == "old-felt") != (b.role == "old-felt"):
        claim = cb if a.role == "old-felt" else ca
        if claim is not None and "tucked_above_m" in claim.facts:  # its top goes into a slit in the felt
            x0, _, x1, y1 = area.bounds
            above = shapely.clip_by_rect(area, x0 - 1, float(claim.facts["tucked_above_m"]), x1 + 1, y1 + 1)
            return [(b.role == "old-felt", area.difference(above)), (a.role == "old-felt", above)]
    return None


def _kind(over: Piece, under: Piece) -> LapKind:
    if over.role == "course" and under.role == "course":
        return "end" if over.facts["course"] == under.facts["course"] else "course"
    if "corner" in (over.role.split("-")[0], under.role.split("-")[0]):
        return "corner"
    if over.claim == under.claim:
        return "end"
    return "tie-in"


def _width(part: BaseGeometry, over: Piece, under: Piece) -> float:
    """Return how far one reaches over the other, in metres: height of a course lap, width of an end lap,
    for a tie-in the smaller side of the overlap's own rectangle."""
    x0, y0, x1, y1 = part.bounds
    kind = _kind(over, under)
    if kind == "course":
        return float(y1 - y0)
    if kind == "end" and over.role == "course":
        return float(x1 - x0)
    if part.area > 0.98 * (x1 - x0) * (y1 - y0):
        return float(min(x1 - x0, y1 - y0))
    rect = part.minimum_rotated_rectangle
    pts = list(rect.exterior.coords) if hasattr(rect, "exterior") else []
    if len(pts) < 4:
        return 0.0
    sides = [np.hypot(pts[k + 1][0] - pts[k][0], pts[k + 1][1] - pts[k][1]) for k in (0, 1)]
    return float(min(sides))


def _asked(
    kind: LapKind,
    over: Piece,
    under: Piece,
    claims: Claims,
    course_lap: Mapping[str, float],
    end_lap: Mapping[str, float],
) -> float:
    if over.role == "course" and under.role == "course":
        table = course_lap if kind == "course" else end_lap
        return table.get(str(over.facts["chain"]), 0.0)
    if over.claim == under.claim:
        claim = claims.get(over.claim)
        return claim.lap_m if isinstance(claim, RunClaim) else 0.0
    upper, lower = claims.get(over.claim), claims.get(under.claim)
    said = [c.facts[k] for c, k in ((upper, "lap_over_m"), (lower, "lap_under_m")) if c and k in c.facts]
    said = said or [c.facts["lap_m"] for c in (upper, lower) if c and "lap_m" in c.facts]
    return min(float(v) for v in said) if said else TIE_LAP_M


def check_laps(laps: Sequence[Lap], pieces: Mapping[str, Piece]) -> tuple[list[Lap], list[Finding]]:
    """Return the laps with `asked` set to 0 where an overlap is incidental, and findings for laps that fall short.

    A tie-in is incidental when the same piece reaches far enough over (or under) other pieces along the
    whole of it, so that nothing depends on this overlap.
    """
    by_piece: dict[str, list[Lap]] = {}
    for lap in laps:
        by_piece.setdefault(lap.over, []).append(lap)
        by_piece.setdefault(lap.under, []).append(lap)
    out: list[Lap] = []
    findings: list[Finding] = []
    for lap in laps:
        if lap.got_m >= lap.asked_m - 1e-4:  # as wide as asked, but for the rounding of the overlay
            out.append(lap if lap.got_m >= lap.asked_m else replace(lap, got_m=lap.asked_m))
            continue
        if lap.kind in ("tie-in", "corner") and _incidental(lap, by_piece):
            out.append(Lap(**{**lap.__dict__, "asked_m": 0.0}))
            continue
        if lap.kind in ("course", "end") and _clipped(lap, pieces):
            out.append(Lap(**{**lap.__dict__, "asked_m": 0.0}))
            continue
        out.append(lap)
        x0, y0, *_ = lap.polygon.bounds
        findings.append(
            Finding(
                "lap.short",
                "warn",
                f"{lap.over} laps only {show_both(lap.got_m)} over {lap.under}; {show_both(lap.asked_m)} are asked.",
                "A short lap lets wind-driven rain climb behind.",
                "Move the course line or make the strip wider, or tape the lap.",
                Where(surface=lap.surface, thing=lap.over, x_m=x0, y_m=y0),
                "IRC R703.2" if lap.kind == "tie-in" else "common practice",
            )
        )
    return out, findings


def _incidental(lap: Lap, by_piece: Mapping[str, Sequence[Lap]]) -> bool:
    x0, y0, x1, y1 = lap.polygon.bounds
    flat = (x1 - x0) >= (y1 - y0)
    for piece in (lap.over, lap.under):
        good = [
            o.polygon
            for o in by_piece[piece]
            if o is not lap
            and o.got_m >= o.asked_m - 1e-4
            and o.asked_m > 0
            and (o.over == piece) == (lap.over == piece)
        ]
        if not good:
            continue
        spans = sorted((p.bounds[0], p.bounds[2]) if flat else (p.bounds[1], p.bounds[3]) for p in good)
        at, end = (x0, x1) if flat else (y0, y1)
        for a, b in spans:
            if a <= at + KNIFE_M:
                at = max(at, b)
        if at >= end - KNIFE_M:
            return True
    return False


def _clipped(lap: Lap, pieces: Mapping[str, Piece]) -> bool:
    """Return whether an outline or a cut-out, not the layout, takes the missing part of a course or end lap."""
    over, under = pieces[lap.over], pieces[lap.under]
    if lap.kind == "course":
        return float(under.facts["top_m"]) - float(over.facts["bottom_m"]) >= lap.asked_m - 1e-4
    low, high = (
        max(over.polygon.bounds[0], under.polygon.bounds[0]),
        min(over.polygon.bounds[2], under.polygon.bounds[2]),
    )
    return bool(high - low >= lap.asked_m - 1e-4 or lap.polygon.bounds[2] - lap.polygon.bounds[0] < high - low - 1e-4)
