"""Laps against a stack of sheets put on one after another.

Written from the words of `details/base.py` and of `layout/laps.py` alone: at a spot, the sheets that lie there are
put on in the order of `installed`. Each goes on top, unless it is tucked: beneath a sheet that a claim (`over`,
`under`, `over_field`) or the courses' own order (higher over lower) puts over it; and a loose edge is left where a
course will come between two strips, so that the one over the courses ends over the one beneath them. The stack
that comes out, sheet by sheet, is compared with plan.json's laps.
"""

from __future__ import annotations

import itertools
import random
from collections import defaultdict
from typing import Any

from shapely import Point, STRtree

from lapwright.details.base import PieceClaim, RunClaim
from lapwright.plan.graph import Plan
from rules import WATER, poly

EDGE_M = 3e-3  # spots closer than this to a sheet's edge are left out: plan.json is rounded, a knife cut is 1 mm

Row = dict[str, Any]


def said_over(a: Row, b: Row, at: Point, claims: dict[str, Any]) -> bool | None:
    """Return whether a lies over b at a spot because somebody says so, None when nobody does."""
    ca, cb = claims.get(a["facts"]["claim"]), claims.get(b["facts"]["claim"])
    if ca is not None and (b["facts"]["claim"] in ca.over or b["facts"]["claim"] in ca.under):
        return b["facts"]["claim"] in ca.over
    if cb is not None and (a["facts"]["claim"] in cb.over or a["facts"]["claim"] in cb.under):
        return a["facts"]["claim"] in cb.under
    courses = [x["role"] == "course" and x["layer"] == "barrier" for x in (a, b)]
    if all(courses):
        n, m = a["facts"]["course"], b["facts"]["course"]
        return None if n == m else a["facts"]["bottom_m"] > b["facts"]["bottom_m"]
    if any(courses):
        strip = cb if courses[0] else ca
        if strip is not None and strip.over_field is not None:
            return bool(strip.over_field.buffer(1e-9).covers(at)) != courses[0]
    felts = [x["role"] == "old-felt" for x in (a, b)]
    if felts[0] != felts[1]:
        strip = cb if felts[0] else ca
        if strip is not None and "tucked_above_m" in strip.facts:  # its top goes into a slit in the felt
            return (at.y > strip.facts["tucked_above_m"]) == felts[0]
    return None


def stack(here: list[Row], at: Point, claims: dict[str, Any]) -> list[Row]:
    """Return the sheets at a spot from the lowest to the uppermost."""
    course = [p for p in here if p["role"] == "course"]

    def beneath(lower: Row, upper: Row) -> bool:
        """Whether `lower` has to go beneath `upper`, which hangs already."""
        said = said_over(upper, lower, at, claims)
        if said is not None:
            return said
        if "course" in (lower["role"], upper["role"]):
            return False
        for c in course:  # one that comes later finds the strips as it needs them
            over, under = said_over(upper, c, at, claims), said_over(lower, c, at, claims)
            over = False if over is None and upper["installed"] < c["installed"] else over
            under = False if under is None and lower["installed"] < c["installed"] else under
            if over is True and under is False:
                return True
        return False

    out: list[Row] = []
    for sheet in sorted(here, key=lambda p: p["installed"]):
        limits = [k for k, other in enumerate(out) if beneath(sheet, other)]
        out.insert(min(limits, default=len(out)), sheet)
    return out


def differences(plan: Plan, doc: Row, rng: random.Random, spots: int) -> tuple[list[str], int]:
    """Return where the laps differ from the stack, and how many pairs were compared."""
    claims = {c.key: c for c in plan.claims if isinstance(c, PieceClaim | RunClaim)}
    laps: dict[frozenset[str], list[tuple[str, Any]]] = defaultdict(list)
    for lap in doc["laps"]:
        laps[frozenset((lap["over"], lap["under"]))].append((lap["over"], poly(lap["polygon"])))
    out: list[str] = []
    compared = 0
    for surface in doc["surfaces"]:
        mine = [
            {**p, "shape": poly(p["polygon"])}
            for p in doc["pieces"]
            if p["surface"] == surface["id"] and p["plane"] == "face" and p["layer"] in WATER and not p["facts"].get("on")  # no water runs along the outside of foam
        ]
        if not mine:
            continue
        tree = STRtree([p["shape"] for p in mine])
        crowded = [a["shape"].intersection(b["shape"]) for a, b in itertools.pairwise(mine)]
        crowded = [c for c in crowded if c.area > 1e-4] or [p["shape"] for p in mine]
        for _ in range(spots):
            where = rng.choice((rng.choice(crowded), rng.choice(mine)["shape"]))
            x0, y0, x1, y1 = where.bounds
            at = Point(rng.uniform(x0, x1), rng.uniform(y0, y1))
            here = [mine[int(i)] for i in tree.query(at, predicate="within")]
            here = [p for p in here if p["shape"].exterior.distance(at) > EDGE_M]
            if any(p["shape"].boundary.distance(at) < EDGE_M for p in mine) or len(here) < 2:
                continue
            found = stack(here, at, claims)
            for i, lower in enumerate(found):
                for upper in found[i + 1 :]:
                    if lower["cut"] is not None and lower["cut"] == upper["cut"]:
                        continue
                    says = [o for o, g in laps[frozenset((lower["id"], upper["id"]))] if g.buffer(1e-4).covers(at)]
                    compared += 1
                    if says != [upper["id"]]:
                        out.append(f"at {at.x:.3f}, {at.y:.3f}: {upper['id']} over {lower['id']}; the plan has {says}")
    return out, compared
