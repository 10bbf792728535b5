"""Edges of every sheet: which way they face, what covers them, and whether water gets behind.

For each stretch of a sheet P's edge two points are asked, a hair inside and a hair outside. The stack there
tells the case:

covered   some sheet B lies over P and runs on past the edge. Water must first get behind B: how far it would
          have to climb or creep from B's own rim decides.
exposed   nothing over P runs past the edge. An upper edge then takes in what runs down the sheet that goes on
          beneath it (a reverse lap); a side edge is as good as the sheet beneath reaches behind it; a lower edge
          drains, onto the sheet that comes up behind it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from lapwright.continuity.area import drained
from lapwright.continuity.model import STICKS, DropRules, Edge, Role, State
from lapwright.continuity.wall import COATINGS, FAR_M, Wall, exit_distance

HAIR_M = 2e-4  # inside and outside points lie this far from the edge: half a knife's width is 0.5 mm
FOLD_M = 2e-3  # an edge this near to a line along which its sheet turns off the face is no free edge
SHORT_M = 4e-3  # stretches shorter than this are corners and knife ends, not edges
SEAL_LAYERS = frozenset({"tape", "film", "sealant"})
FRAMES = frozenset({"unit", "existing"})
SHELTER_M = 0.15  # the top of the wall under eave and rake trim is out of the rain; common practice; more where the eave is taped

Cut = tuple[int, tuple[float, float], tuple[float, float], tuple[float, float]]  # sheet, ends, outward normal


@dataclass(slots=True)
class Stretch:
    """A piece of edge between two crossings: its ends, outward normal, the two points asked, and what is round it.

    folded: sheets that turn off the face along it. body, roof, kept, off, pan: the outside point lies on what comes
    through the wall, on a roof, on kept cladding, off the wall, in an opening with a pan. drains_m2: the area whose
    water passes here.
    """

    sheet: int
    a: tuple[float, float]
    b: tuple[float, float]
    normal: tuple[float, float]
    inside: tuple[float, float]
    outside: tuple[float, float]
    folded: frozenset[int] = frozenset()
    body: bool = False
    roof: bool = False
    kept: bool = False
    off: bool = False
    pan: bool = False
    drains_m2: float = 0.0

    @property
    def free(self) -> bool:
        """Whether a drop that lets go here is out: off the wall, on a roof or what stands out, over a pan."""
        return self.off or self.roof or self.body or self.pan

    @property
    def length(self) -> float:
        """Length in metres."""
        return math.hypot(self.b[0] - self.a[0], self.b[1] - self.a[1])


def role_of(normal: tuple[float, float], rules: DropRules) -> Role:
    """Return which way an edge faces: up (entry), down (drain) or aside, by its outward normal."""
    tilt = math.degrees(math.asin(max(-1.0, min(1.0, normal[1]))))
    if tilt > rules.level_deg:
        return "entry"
    return "drain" if tilt < -rules.level_deg else "side"


def stretches(wall: Wall, rules: DropRules) -> list[Stretch]:
    """Return all stretches of all sheets' edges, fold lines left out, in sheet and ring order."""
    sides = wall.sides
    cut = [
        row
        for n, p, q, at in zip(sides.owner.tolist(), sides.a.tolist(), sides.b.tolist(), sides.marks(), strict=True)
        if wall.sheets[n].layer not in COATINGS
        for row in _cut(n, p, q, at)
    ]
    if not cut:
        return []
    ends = np.array([(*row[1], *row[2]) for row in cut])
    normal = np.array([row[3] for row in cut])
    mid = (ends[:, :2] + ends[:, 2:]) / 2
    folded = _folded(wall, mid)
    inside, outside = mid - normal * HAIR_M, mid + normal * HAIR_M
    side = np.array([role_of((x, y), rules) == "side" for x, y in normal.tolist()])
    drains = drained(wall, ends, side, rules)
    around = [
        shapely.intersects_xy(area, outside[:, 0], outside[:, 1]).tolist()
        for area in (wall.bodies, wall.roofs, wall.kept, wall.outline, wall.pans)
    ]
    spots = zip(inside.tolist(), outside.tolist(), *around, drains.tolist(), strict=True)
    out = []
    for k, ((x, y), (ox, oy), body, roof, kept, on, pan, area) in enumerate(spots):
        n, p, q, facing = cut[k]
        turned = folded.get(k, frozenset())
        if n not in turned:
            out.append(Stretch(n, p, q, facing, (x, y), (ox, oy), turned, body, roof, kept, not on, pan, area))
    return out


def _cut(n: int, p: list[float], q: list[float], marks: set[float]) -> Iterator[Cut]:
    """Yield one side of a ring cut where other sheets' rims cross or touch it."""
    dx, dy = q[0] - p[0], q[1] - p[1]
    length = math.hypot(dx, dy)
    if length < SHORT_M:
        return
    ux, uy = dx / length, dy / length
    for t0, t1 in itertools.pairwise(sorted({0.0, length} | marks)):
        if t1 - t0 >= SHORT_M:  # rings run with the sheet on their left
            yield n, (p[0] + ux * t0, p[1] + uy * t0), (p[0] + ux * t1, p[1] + uy * t1), (uy, -ux)


def _folded(wall: Wall, mid: NDArray[np.float64]) -> dict[int, frozenset[int]]:
    """Return for each stretch, by its middle, the sheets that turn off the face there."""
    owners = [n for n, s in enumerate(wall.sheets) if s.id in wall.folds]
    if not owners:
        return {}
    lines = np.array([wall.folds[wall.sheets[n].id] for n in owners], dtype=object)
    at, found = shapely.STRtree(shapely.points(mid)).query(lines, predicate="dwithin", distance=FOLD_M)
    out: dict[int, set[int]] = {}
    for line, k in zip(at.tolist(), found.tolist(), strict=True):
        out.setdefault(k, set()).add(owners[line])
    return {k: frozenset(v) for k, v in out.items()}


def judge(wall: Wall, rules: DropRules) -> list[Edge]:
    """Return every stretch of every sheet's edge with its role and state."""
    found = stretches(wall, rules)
    inner = wall.sheets_at(np.array([s.inside for s in found]).reshape(-1, 2))
    outer = wall.sheets_at(np.array([s.outside for s in found]).reshape(-1, 2))
    return [
        _judge_one(wall, rules, stretch, set(here) | {stretch.sheet}, set(beyond))
        for stretch, here, beyond in zip(found, inner, outer, strict=True)
    ]


def _judge_one(wall: Wall, rules: DropRules, s: Stretch, here: set[int], beyond: set[int]) -> Edge:
    x, y = s.inside
    role = role_of(s.normal, rules)
    sheet = wall.sheets[s.sheet]
    beyond.discard(s.sheet)
    above = [k for k in here if k != s.sheet and wall.over(k, s.sheet, x, y)]
    covers = [k for k in above if k in beyond or k in s.folded]
    below = [k for k in here if k != s.sheet and k not in above]
    under = [k for k in below if k in beyond or k in s.folded]
    if covers:
        return _covered(wall, rules, s, role, covers, under)
    if any(wall.sheets[k].hides for k in above) or (sheet.hides and role != "drain"):
        return _edge(wall, s, role, "not_seen")
    if s.body:  # against a pipe or box: gasket, sealant or film holds it there
        return _edge(wall, s, role, "relies_on_glue")
    if s.roof:  # onto a roof it drains; beneath one it is out of the rain
        return _edge(wall, s, role, "relies_on_glue" if role == "side" else "shingled", FAR_M)
    turned = [k for k in s.folded if k in beyond and k not in here]
    if turned and sheet.layer in FRAMES:
        # a frame in its opening: the strips turn in behind a new one (shingled), onto the side of an old one (glue)
        state: State = "shingled" if sheet.layer == "unit" and role == "side" else "relies_on_glue"
        return _edge(wall, s, role, state, 0.0, wall.sheets[min(turned)].id)
    if sheet.layer == "unit" and any(wall.sheets[k].layer == "existing" for k in under):
        return _edge(wall, s, role, "relies_on_glue", 0.0, wall.sheets[under[0]].id)  # sealed into the old frame
    if role == "entry":
        return _exposed_entry(wall, s, beyond, under)
    if role == "side":
        return _exposed_side(wall, rules, s, under)
    return _exposed_drain(wall, rules, s, under)


def _covered(wall: Wall, rules: DropRules, s: Stretch, role: Role, covers: list[int], under: list[int]) -> Edge:
    """Judge an edge with something over it: B's own rim is where water would start."""
    sheet = wall.sheets[s.sheet]
    ways = {"entry": (0.0, -1.0), "side": (-s.normal[0], -s.normal[1]), "drain": (0.0, -1.0)}[role]
    best, by = -1.0, covers[0]
    for k, reach in ((k, FAR_M) for k in covers) if role == "drain" else _reach(wall, covers, s, ways):
        # of two that reach as far, the one that is stuck down keeps the water out
        as_far = role != "drain" and abs(reach - best) <= 1e-4
        if reach > best + (0.0 if role == "drain" else 1e-4) or (
            as_far and wall.sheets[k].held in STICKS and wall.sheets[by].held not in STICKS
        ):
            best, by = reach, k
    over = wall.sheets[by]
    if role == "drain":
        sealed = over.layer in SEAL_LAYERS and over.held in STICKS
        return _edge(wall, s, role, "shingled", best, over.id, sealed_drain=sealed, blind=not (under or s.free))
    if role == "side":  # water behind P's side lands on what lies beneath: enough when that reaches far enough behind P
        for k, reach in _reach(wall, under, s, ways):
            if reach > best:
                best, by = reach, k
    need = rules.climb_m if role == "entry" else rules.side_lap_m
    # past a side water lands beneath P, behind B: only what holds B to P keeps it out; an upper edge that is stuck down sends it back
    back = role == "entry" or s.pan  # into an opening: out over its pan
    glued = over.held in STICKS or (back and sheet.held in STICKS)
    state: State = "shingled" if best >= need - 1e-3 else "relies_on_glue" if glued else "open"
    if role == "entry" and under and all(wall.sheets[k].layer in SEAL_LAYERS for k in covers):
        # the sheet above runs behind P, and only tape or film bridges the joint
        lacks = [bridges(wall, rules, s, k, under) for k in covers]
        good = next((k for k, lack in zip(covers, lacks, strict=True) if not lack), None)
        state = "open" if good is None else "relies_on_glue"
        below = wall.stacked(under, *s.inside)[-1]
        return _edge(wall, s, role, state, best, wall.sheets[below].id, reverse=True, lacks=lacks[0] if good is None else "")
    return _edge(wall, s, role, state, best, over.id)


def bridges(wall: Wall, rules: DropRules, s: Stretch, k: int, under: list[int]) -> str:
    """Return why tape or film k over a backward lap does not count: it must reach an inch past the edge each side, stick,
    go together with both sheets, and be checked; "" when all of that holds."""
    tape, past = wall.sheets[k], rules.seal_past_m - 1e-3
    if wall.exit(k, *s.inside, 0.0, -1.0) < past or wall.exit(k, *s.outside, 0.0, 1.0) < past:
        return f"{tape.id} does not reach 1 in past the edge on both sides"
    if not wall.stuck(k, s.sheet, *s.inside):
        return f"{tape.id} is not stuck"
    if not tape.checked or (wall.bonds is not None and not wall.bonds.checked(tape.place, tape.step)):
        return f"no check of {tape.id} is written down before it is covered"
    if wall.bonds is None:
        return ""
    faults = (wall.bonds.fault(tape, wall.sheets[n]) for n in (s.sheet, *under))
    return next((f.rstrip(".") for f in faults if f), "")


def _reach(wall: Wall, ks: Iterable[int], s: Stretch, way: tuple[float, float]) -> Iterator[tuple[int, float]]:
    """Yield how far each sheet goes on from the stretch in a direction: far when it hides all of P there, or folds away."""
    x, y = s.inside
    own = -1.0
    for k in ks:
        reach = wall.exit(k, x, y, *way)
        own = wall.exit(s.sheet, x, y, *way) if own < 0 else own
        fold = wall.folds.get(wall.sheets[k].id)
        if reach >= own - 1e-3 or (
            fold is not None and fold.distance(shapely.Point(x + way[0] * reach, y + way[1] * reach)) < FOLD_M
        ):
            reach = FAR_M
        yield k, reach


def _exposed_entry(wall: Wall, s: Stretch, beyond: set[int], under: list[int]) -> Edge:
    sheet = wall.sheets[s.sheet]
    top = exit_distance(wall.outline_rings, *s.outside, 0.0, 1.0)
    if s.off or top < max(SHELTER_M, wall.eave_m):
        return _edge(
            wall, s, "entry", "shingled", FAR_M
        )  # the top of the wall: eave and rake shed what comes from above
    if under and sheet.layer in SEAL_LAYERS and sheet.held in STICKS:
        return _edge(wall, s, "entry", "relies_on_glue", 0.0, wall.sheets[under[-1]].id)  # tape is glue, and said to be
    if under:
        return _edge(wall, s, "entry", "open", 0.0, wall.sheets[under[-1]].id, reverse=True)
    if s.kept:
        return _edge(wall, s, "entry", "not_seen")
    if beyond:  # another sheet ends right here above it: a butt
        return _edge(wall, s, "entry", "open", 0.0, wall.sheets[min(beyond)].id)
    state: State = "relies_on_glue" if sheet.held in STICKS and sheet.layer in SEAL_LAYERS else "open"
    return _edge(wall, s, "entry", state)


def _exposed_side(wall: Wall, rules: DropRules, s: Stretch, under: list[int]) -> Edge:
    sheet = wall.sheets[s.sheet]
    if s.off:
        return _edge(wall, s, "side", "shingled", FAR_M)  # the face's own end: what goes round the corner is a tie
    if s.kept:
        return _edge(wall, s, "side", "not_seen")
    best, by = 0.0, ""
    for k, reach in _reach(wall, under, s, (-s.normal[0], -s.normal[1])):
        if reach > best:
            best, by = reach, wall.sheets[k].id
    state: State = (
        "shingled" if best >= rules.side_lap_m - 1e-3 else "relies_on_glue" if sheet.held in STICKS else "open"
    )
    return _edge(wall, s, "side", state, best, by)


def _exposed_drain(wall: Wall, rules: DropRules, s: Stretch, under: list[int]) -> Edge:
    if s.off:
        return _edge(wall, s, "drain", "shingled", FAR_M)
    if s.kept:
        new = [k for k in under if wall.sheets[k].layer != "existing"]
        if not new:  # old felt takes it on, out of sight; with nothing beneath, the plane ends behind what stays
            seen = not under and wall.sheets[s.sheet].layer != "existing"
            return _edge(wall, s, "drain", "open" if seen else "not_seen")
        under = new
    best, by = 0.0, ""
    for k, reach in _reach(wall, under, s, (0.0, 1.0)):
        if reach > best:
            best, by = reach, wall.sheets[k].id
    if not under:
        return _edge(wall, s, "drain", "open")
    state: State = "shingled" if best >= rules.climb_m - 1e-3 else "relies_on_glue"
    return _edge(wall, s, "drain", state, best, by)


def _edge(
    wall: Wall, s: Stretch, role: Role, state: State, covered: float = 0.0, by: str = "", reverse: bool = False,
    sealed_drain: bool = False, blind: bool = False, lacks: str = "",
) -> Edge:  # fmt: skip
    return Edge(
        wall.sheets[s.sheet].id, wall.surface, (s.a, s.b), role, state, s.length, s.drains_m2, covered, by, reverse=reverse,
        sealed_drain=sealed_drain, blind=blind, lacks=lacks,
    )  # fmt: skip
