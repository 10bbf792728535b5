"""From a plan document, or from sheets thrown at a wall, to the tracer's walls; and where tracer and drop test differ."""

from __future__ import annotations

import itertools
import math
import random
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

import shapely
import tracer
from shapely import LineString, Point, Polygon
from shapely.geometry import polygon

Row = Mapping[str, Any]
LAYERS = {"barrier", "strip", "film", "tape", "flashing", "unit", "existing"}
SHELTER_M = 0.15  # published parameter: the top of the wall is out of the rain
SHORT_M = 0.03  # stretches shorter than this are knife ends and the arcs of holes


def walls_of(doc: Row, seed: int, columns: int) -> list[tuple[Row, tracer.Wall]]:
    """Return (surface, wall) of every surface of a plan document that carries sheets."""
    planes: dict[str, set[str]] = defaultdict(set)
    for p in doc["pieces"]:
        if p["cut"]:
            planes[p["cut"]].add(p["plane"])
    out = []
    for s in doc["surfaces"]:
        mine = [
            p for p in doc["pieces"]
            if p["surface"] == s["id"] and p["plane"] == "face" and p["layer"] in LAYERS
            and not p["facts"].get("on")
        ]  # fmt: skip
        if s["kind"] != "wall" or not mine:
            continue
        bodies = [tracer.polygon_of(p["polygon"]) for p in s["penetrations"]]
        shields = []
        for a in s["attachments"]:
            (ax, ay), (bx, by) = a["line"]
            if a["polygon"] is not None:
                bodies.append(tracer.polygon_of(a["polygon"]))
            elif a["kind"] == "deck_ledger":
                bodies.append(Polygon([(ax, ay), (bx, by), (bx, by - a["depth_m"]), (ax, ay - a["depth_m"])]))
            elif a["kind"] in ("roof", "porch_roof", "roof_return", "eave"):
                low = (-100.0, -100.0) if a["below"] == "inside" else (ay - SHELTER_M, by - SHELTER_M)
                shields.append(Polygon([(ax, ay + 0.05), (bx, by + 0.05), (bx, low[1]), (ax, low[0])]))
        openings = {o["id"]: tracer.polygon_of(o["polygon"]) for o in s["openings"]}
        rims = shapely.union_all([b.boundary for b in (*openings.values(), *bodies)])
        pans = [
            poly for name, poly in openings.items()
            if any((p["plane"] == "sill" and p["role"] in ("sill-strip", "sill-pan")) or p["facts"]["claim"].endswith("/reveal-film")
                   for p in doc["pieces"] if p["place"] == f"{s['id']}/{name}")
        ]  # fmt: skip
        turned = {p["id"]: lines for p in mine if (lines := _turned(p, planes, rims)) is not None}
        laps = [x for x in doc["laps"] if x["surface"] == s["id"]]
        out.append((s, tracer.Wall(mine, laps, seed, columns, shields, turned, pans)))
    return out


def _turned(piece: Row, planes: Mapping[str, set[str]], rims: Any) -> Any:
    """Return the lines along which a piece's sheet turns off the face: into an opening, onto a pipe, out as a lip."""
    shape = tracer.polygon_of(piece["polygon"])
    if piece["layer"] in ("film", "sealant"):
        return shape.boundary
    mine = planes.get(piece["cut"] or "", set())
    lines = []
    if mine - {"face"}:
        lines.append(shape.boundary.intersection(rims.buffer(1e-3)))
    if "under" in mine and piece["layer"] in ("flashing", "strip"):
        ring = list(polygon.orient(shape).exterior.coords)
        lines += [LineString([p, q]) for p, q in itertools.pairwise(ring) if q[0] - p[0] > abs(q[1] - p[1]) * 0.2]
    lines = [x for x in lines if not x.is_empty]
    return shapely.union_all(lines) if lines else None


def differ(
    surface: Row, wall: tracer.Wall, edges: Iterable[Row], drops: int, seed: int, shade: float = SHELTER_M
) -> tuple[Counter[str], list[str]]:
    """Let drops run on one wall and hold what they did against the edges; return counts and what does not fit.

    Every drop that is trapped must have got in at an edge that is not called shingled, and with the glue whole at one
    that is called open. Every weak edge with an end to its drop is tried by a drop of its own.
    """
    of: dict[str, list[tuple[LineString, Row]]] = defaultdict(list)
    for e in edges:
        of[e["piece"]].append((LineString(e["segment"]), e))
    outline = tracer.polygon_of(surface["outline"])
    rng = random.Random(seed)
    count: Counter[str] = Counter()
    wrong: list[str] = []
    for n in range(drops):
        at, y = rng.randrange(len(wall.xs)), rng.uniform(wall.foot, wall.top)
        glue = n % 2 == 0
        if not wall.stack(at, y) or not outline.contains(Point(wall.xs[at], y + shade)):
            continue
        end = wall.trace(at, y, (), glue)
        count["out" if end.out else "trapped"] += 1
        if end.out:
            continue
        if not end.passes:
            wrong.append(f"glue {glue}: {end} got behind nothing, from {wall.xs[at]:.4f} {y:.4f}")
            continue
        states: set[str] = set()
        for p in end.passes:
            # a drop that crept in beside a weak stretch got in there: the whole way that it may have crept counts
            way = LineString([(p.x0 - tracer.CREEP_M, p.y), (p.x1 + tracer.CREEP_M, p.y)])
            states |= {e["state"] for line, e in of[p.piece] if line.distance(way) < 2e-3}
            states |= {e["state"] for line, e in of[p.via] if line.distance(Point(p.x, p.via_y)) < 2e-3}
        if not states:  # a stretch of some millimeters, at a knife's end or on the arc of a hole, that the test leaves out
            count["unlisted"] += 1
            continue
        if not states - {"shingled"} or (glue and not states - {"shingled", "relies_on_glue"}):
            wrong.append(f"glue {glue}: {end}, edges called {states}")
    for e in edges:
        (ax, ay), (bx, by) = e["segment"]
        if not (e["out"] or e["trapped"]) or math.hypot(bx - ax, by - ay) < SHORT_M:
            continue
        x, y = e["spot"]
        at = wall.line(x)
        stack = wall.stack(at, y)
        first = e["piece"] if e["piece"] in stack else None  # past its side: behind all that lies over where it landed
        if first is None and e["by"] not in stack:
            continue
        above = stack[: stack.index(first) + 1] if first else stack[: stack.index(e["by"])]
        ends = [wall.trace(at, y, above, glue=glue, straight=True).out for glue in (False, True)]
        count["edge out" if e["out"] else "edge trapped"] += 1
        if (bool(e["out"]) and not ends[0]) or (bool(e["trapped"]) and all(ends)):
            wrong.append(f"{e} but a drop got out: with the glue gone {ends[0]}, with it whole {ends[1]}")
    return count, wrong


def thrown(seed: int) -> dict[str, Any]:
    """Return an arrangement as a pieces file holds it: courses, strips and tapes at random places, in a random order of
    hanging (mostly from the bottom up), held at random."""
    rng = random.Random(seed)
    wide, high = rng.uniform(1.5, 4), rng.uniform(1.5, 3)
    rows: list[tuple[float, Any, str]] = []
    y, n = 0.0, 0
    while y < high:
        top = min(y + rng.uniform(0.4, 0.9), high)
        x = 0.0
        while x < wide - 0.2:
            right = min(x + rng.uniform(0.7, 2.5), wide)
            rows.append((n + rng.choice((0, 0, 0, rng.uniform(-3, 3))), shapely.box(x, y, right, top), "barrier"))
            x = right - rng.choice((0.04, 0.1, 0.16, 0.2)) if right < wide else wide
            n += 1
        y = top - rng.choice((0.02, 0.03, 0.06, 0.1)) if top < high else high
    for _ in range(rng.randrange(0, 9)):
        w, h = rng.uniform(0.1, 0.9), rng.uniform(0.08, 0.5)
        left, low = rng.uniform(0, wide - w), rng.uniform(0, high - h)
        kind = rng.choice(("strip", "strip", "tape", "flashing"))
        rows.append((rng.uniform(0, n), shapely.box(left, low, left + w, low + h), kind))
    pieces = []
    for k, (order, shape, layer) in enumerate(sorted(rows, key=lambda r: r[0])):
        held = rng.choice(("loose", "adhered", "taped")) if layer != "tape" else "taped"
        ring = [[round(x, 6), round(v, 6)] for x, v in shape.exterior.coords]
        pieces.append(
            {"id": f"p{k}", "surface": "wall", "polygon": ring, "layer": layer, "held": held, "installed": k + 1}
        )
        del order
    laps = []
    for j, upper in enumerate(pieces):
        for lower in pieces[:j]:
            common = tracer.polygon_of(upper["polygon"]).intersection(tracer.polygon_of(lower["polygon"]))
            if common.area > 1e-6:
                laps.append({"over": upper["id"], "under": lower["id"], "surface": "wall", "held": upper["held"],
                             "polygon": [list(c) for c in common.exterior.coords]})  # fmt: skip
    outline = [[0, 0], [wide, 0], [wide, high + 1], [0, high + 1], [0, 0]]
    return {"surfaces": [{"id": "wall", "outline": outline}], "pieces": pieces, "laps": laps}
