"""Small houses for the tests of tops, joints, gap and cladding: one with a gable, a setback and kept zones, and random ones."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

from shapely import Polygon

from lapwright import catalog
from lapwright.geometry import box
from lapwright.plan.document import document
from lapwright.plan.graph import Plan
from lapwright.scope.model import Assembly, Job, Layer, Scope
from lapwright.survey.model import Attachment, Face, Framing, Loop, Opening, Place, Survey, Zone

FT = 0.3048
IN = 0.0254
CATALOG, _ = catalog.load()
STATES = ("before", "after", "kept", "insert")


def feet(*points: tuple[float, float]) -> Polygon:
    return Polygon([(x * FT, y * FT) for x, y in points])


def rect(x: float, y: float, w: float, h: float) -> Polygon:
    return box(x * FT, y * FT, (x + w) * FT, (y + h) * FT)


def opening(face: str, name: str, x: float, y: float, w: float, h: float, state: str = "after") -> Opening:
    kind = "door" if y == 0 else "window"
    return Opening(name, face, kind, rect(x, y, w, h), "rectangle", state)  # type: ignore[arg-type]


def skin(
    barrier: str = "self-adhered-sheet", gap: str = "mat", name: str = "new", siding: str = "board-siding"
) -> Assembly:
    layers = {
        "mat": (Layer("mat", "mesh-mat"),),
        "furring": (Layer("furring", "furring-1x3"),),
        "none": (),
    }[gap]
    return Assembly(
        name,
        (
            Layer("cladding", siding),
            *layers,
            Layer("barrier", barrier),
            Layer("sheathing", material="board", existing=True),
        ),
    )


OLD = Assembly("old", (Layer("cladding", material="board", thickness_m=0.02, existing=True),))


def face(
    name: str,
    index: int,
    outline: Polygon,
    left: str | None,
    right: str | None,
    zones: tuple[Zone, ...] | None = None,
    openings: tuple[Opening, ...] = (),
    eaves: str = "open",
    attachments: tuple[Attachment, ...] = (),
    framing: Framing | None = None,
    turn: float = 90.0,
) -> Face:
    return Face(
        name, "main", index, float(outline.bounds[2]), turn, outline, left, right, (0.0, 0.0, 0.0), None,
        framing=framing or Framing(), openings=openings, attachments=attachments, eaves=eaves,
        zones=zones if zones is not None else (Zone("main", name, outline, "remove", "new"),),
    )  # fmt: skip


def plan(faces: list[Face], closed: bool = True, assemblies: tuple[Assembly, ...] = (), **scope: Any) -> Plan:
    survey = Survey(
        "Test House", "imperial", Place("nowhere"), tuple(faces), (Loop("main", tuple(f.id for f in faces), closed),)
    )
    known = {a.id: a for a in (skin(), OLD, *assemblies)}
    return Plan(Job(survey, Scope(known, **scope), Path("."), Path("house.yaml")), CATALOG)


GABLE = feet((0, 0), (24, 0), (24, 10), (12, 20), (0, 10))
STEPPED = feet((0, 0), (30, 0), (30, 10), (20, 10), (20, 18), (10, 18), (10, 10), (0, 10))


def mixed(**scope: Any) -> Plan:
    """A gable with old cladding low on the left and high on the right; a side half kept; a kept gable; a setback with an island."""
    low, high, island = rect(0, 0, 8, 4), rect(16, 8, 8, 12).intersection(GABLE), rect(13, 2, 4, 3)
    faces = [
        face("g", 0, GABLE, "d", "b", (
            Zone("main", "g", GABLE.difference(low).difference(high), "remove", "new"),
            Zone("low", "g", low, "keep", "old"), Zone("high", "g", high, "keep", None),
        ), (opening("g", "w1", 3, 5, 3, 4, "before"), opening("g", "w2", 17, 2, 3, 4))),
        face("b", 1, rect(0, 0, 30, 10), "g", "c", (
            Zone("main", "b", rect(0, 0, 20, 10), "remove", "new"), Zone("kept", "b", rect(20, 0, 10, 10), "keep", None),
        ), (opening("b", "w1", 3, 3, 3, 5, "kept"), opening("b", "d1", 12, 0, 3, 7)), "closed"),
        face("c", 2, GABLE, "b", "d", (Zone("main", "c", GABLE, "keep", None),)),
        face("d", 3, STEPPED, "c", "g", (
            Zone("main", "d", STEPPED.difference(island), "remove", "new"), Zone("isl", "d", island, "keep", None),
        ), (opening("d", "w1", 3, 3, 3, 4, "insert"), opening("d", "w2", 12, 11, 3, 4)), "vented"),
    ]  # fmt: skip
    return plan(faces, **scope)


def random_house(seed: int) -> Plan:
    """Four faces, gables of any slope, kept corners of random size, windows of every state where there is room."""
    rng = random.Random(seed)
    widths = [rng.randrange(16, 40) for _ in range(2)] * 2
    tall = rng.randrange(9, 19)
    faces = []
    for k, w in enumerate(widths):
        name = "abcd"[k]
        outline = rect(0, 0, w, tall)
        if k % 2 == 0:
            peak = tall + w / 2 * rng.choice((4, 8, 12, 18)) / 12
            outline = feet((0, 0), (w, 0), (w, tall), (w / 2, peak), (0, tall))
        kept = []
        if rng.random() < 0.7:
            kw, kh = rng.uniform(3, w / 2), rng.uniform(2, tall - 3)
            x = rng.choice((0.0, w - kw, rng.uniform(2, w - kw)))
            y = rng.choice((0.0, float(tall - kh), rng.uniform(1, tall - kh)))
            kept.append(rect(x, y, kw, kh))
        new = outline
        for area in kept:
            new = new.difference(area)
        zones = [Zone("main", name, new, "remove", "new")] if isinstance(new, Polygon) else [
            Zone(f"main{i}", name, part, "remove", "new") for i, part in enumerate(new.geoms)
        ]  # fmt: skip
        zones += [Zone("kept", name, area, "keep", "old") for area in kept]
        openings: list[Opening] = []
        for n in range(rng.randrange(0, 7)):
            o = opening(name, f"w{n}", rng.uniform(1, w - 5), rng.uniform(1, tall - 5), rng.uniform(1, 4), rng.uniform(1, 4),
                        rng.choice(STATES))  # fmt: skip
            room = o.polygon.buffer(0.6)
            if any(room.intersects(p.polygon) for p in openings) or not outline.buffer(-0.4).covers(o.polygon):
                continue
            if any(room.intersects(area) for area in kept):
                continue
            openings.append(o)
        faces.append(
            face(name, k, outline, "abcd"[k - 1], "abcd"[(k + 1) % 4], tuple(zones), tuple(openings),
                 rng.choice(("open", "closed", "vented")))
        )  # fmt: skip
    return plan(faces)


def rings_broken(made: Plan, points: int = 150) -> list[str]:
    """Return the broken rules of a plan's document (see rules.py)."""
    from rules import broken_rules

    holes = {f.id: [o.polygon for o in f.openings] for f in made.job.survey.faces}
    keys = ("job", "surfaces", "assemblies", "pieces", "cuts", "laps")
    return broken_rules(document(made, keys), holes, points=points)


def loops_of_laps(made: Plan) -> list[str]:
    """Return every ring of laps, exactly: where all pieces at a point are ordered pairwise, a ring holds one of two or three."""
    from collections import defaultdict

    laps = [x for x in made.layout.laps]
    below: dict[str, list[Any]] = defaultdict(list)
    for lap in laps:
        below[lap.over].append(lap)
    out = []
    for first in laps:
        for second in below[first.under]:
            common = first.polygon.intersection(second.polygon)
            if common.buffer(-2e-4).is_empty:  # a hair of the 0.01 mm grid, no sheet
                continue
            if second.under == first.over:
                out.append(f"{first.over} <> {first.under}")
                continue
            out += [
                f"{first.over} > {first.under} > {second.under} > {first.over}"
                for third in below[second.under]
                if third.under == first.over and not third.polygon.intersection(common).buffer(-2e-4).is_empty
            ]
    return out
