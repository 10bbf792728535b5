"""Geometry rules that every layout must keep, checked from the plan document with random points.

Written from design.md and contract.md, not from the layout's code: coverage by asking points, depth by
stacking sheets one after another at a point, areas by adding.
"""

from __future__ import annotations

import random
from collections import defaultdict
from typing import Any

import networkx as nx
from shapely import Point, STRtree
from shapely.geometry import shape
from shapely.ops import unary_union

WATER = {"barrier", "strip", "film", "tape", "flashing", "unit", "existing"}


def poly(rings: list[Any]) -> Any:
    """Return the polygon of plan.json rings. Rounded to 0.1 mm two corners of a thin spike may fall together: mended."""
    made = shape({"type": "Polygon", "coordinates": rings})
    return made if made.is_valid else made.buffer(0)


def _inside(geom: Any, rng: random.Random) -> Point | None:
    x0, y0, x1, y1 = geom.bounds
    for _ in range(200):
        p = Point(rng.uniform(x0, x1), rng.uniform(y0, y1))
        if geom.contains(p):
            return p
    return None


def broken_rules(doc: dict[str, Any], holes: dict[str, Any], seed: int = 1, points: int = 200) -> list[str]:
    """Return a line for every rule that the document breaks. holes: per surface, what courses leave out on purpose."""
    rng = random.Random(seed)
    out: list[str] = []
    faces = {s["id"]: s for s in doc["surfaces"]}
    by_face: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for p in doc["pieces"]:
        if p["plane"] == "face":
            by_face[p["surface"]].append({**p, "shape": poly(p["polygon"])})
    laps: dict[tuple[str, str], list[Any]] = defaultdict(list)
    for lap in doc["laps"]:
        laps[lap["over"], lap["under"]].append(poly(lap["polygon"]))
    for name, face in faces.items():
        outline = poly(face["outline"])
        mine = by_face[name]
        for p in mine:
            if not shape({"type": "Polygon", "coordinates": p["polygon"]}).is_valid:
                out.append(f"{p['id']}: not a valid polygon as written")
            outside = p["shape"].difference(outline.buffer(2e-3))
            if outside.area > 1e-5 and p["layer"] in ("barrier", "mat"):
                out.append(f"{p['id']}: {outside.area:.5f} m2 outside the face")
        new = [z for z in face["zones"] if z["decision"] != "keep" and z["assembly"]]
        if face.get("adjoins", "outside") != "outside":  # a wall to the neighbor or the garage gets no skin
            new = []
        has_barrier = {
            z["id"] for z in new if any(y["layer"] == "barrier" and not y["existing"] for y in doc["assemblies"][z["assembly"]])
        }
        # tape on the outside of foam lies in another plane than the barrier behind the foam
        water = [p for p in mine if p["layer"] in WATER and not p["facts"].get("on")]
        tree = STRtree([p["shape"] for p in water]) if water else None
        for z in new:
            if z["id"] not in has_barrier:
                continue
            want = poly(z["polygon"]).difference(unary_union([h.buffer(2e-3) for h in holes.get(name, [])]))
            for _ in range(points):
                at = _inside(want, rng)
                if at is None:
                    break
                here = [water[int(i)] for i in tree.query(at, predicate="within")] if tree is not None else []
                if not any(p["layer"] in ("barrier", "strip") for p in here):
                    near = min((p["shape"].distance(at) for p in water), default=9.0)
                    if near > 2e-3:
                        out.append(f"{name}: bare at {at.x:.3f}, {at.y:.3f}")
                out += _stack(here, at, laps, name)
        for h in (o for o in face["openings"] if any(poly(z["polygon"]).contains(poly(o["polygon"]).representative_point()) for z in new)):
            hole = poly(h["polygon"]).buffer(-2e-3)
            for p in mine:
                if p["role"] == "course" and p["layer"] == "barrier" and p["shape"].intersection(hole).area > 1e-5:
                    out.append(f"{p['id']} covers the opening {h['id']}")
    out += _cut_areas(doc)
    return out


def _stack(here: list[dict[str, Any]], at: Point, laps: dict[tuple[str, str], list[Any]], name: str) -> list[str]:
    """At one point: every two sheets have exactly one order, and the orders make a stack."""
    out = []
    graph: nx.DiGraph[str] = nx.DiGraph()
    for i, a in enumerate(here):
        for b in here[i + 1 :]:
            if a["cut"] is not None and a["cut"] == b["cut"]:
                continue
            ab = any(g.buffer(1e-6).covers(at) for g in laps.get((a["id"], b["id"]), ()))
            ba = any(g.buffer(1e-6).covers(at) for g in laps.get((b["id"], a["id"]), ()))
            if ab:
                graph.add_edge(a["id"], b["id"])
            if ba:
                graph.add_edge(b["id"], a["id"])
            if ab == ba:
                both = a["shape"].intersection(b["shape"])
                x0, y0, x1, y1 = both.bounds
                edge = min(a["shape"].boundary.distance(at), b["shape"].boundary.distance(at))
                if min(x1 - x0, y1 - y0) > 4e-3 and edge > 2e-3:
                    out.append(f"{name}: {a['id']} and {b['id']} have {'two orders' if ab else 'no order'} at {at.x:.3f}, {at.y:.3f}")
    if graph and not nx.is_directed_acyclic_graph(graph):
        out.append(f"{name}: a ring of laps at {at.x:.3f}, {at.y:.3f}: {nx.find_cycle(graph)}")
    return out


def _cut_areas(doc: dict[str, Any]) -> list[str]:
    """A cut is no larger and no smaller than the pieces it is folded into."""
    area: dict[str, float] = defaultdict(float)
    for p in doc["pieces"]:
        if p["cut"]:
            area[p["cut"]] += poly(p["polygon"]).area
    out = []
    for c in doc["cuts"]:
        flat = poly(c["flat"]).area
        if c["id"] in area and abs(flat - area[c["id"]]) > max(0.02 * flat, 2e-4):
            out.append(f"cut {c['id']}: flat {flat:.4f} m2, its pieces {area[c['id']]:.4f} m2")
    return out
