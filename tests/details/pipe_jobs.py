"""Houses with things through their walls, hand-made and random, for the tests of penetrations and attachments."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from typing import Any

from shapely import Polygon
from skin_jobs import FT, IN, STATES, face, opening, plan, rect, skin

from lapwright.geometry import box
from lapwright.plan.graph import Plan
from lapwright.survey.model import Attachment, Face, Opening, Penetration


def through(name: str, kind: str, x: float, y: float, size: float | tuple[float, float], runs: str = "") -> Penetration:
    """A penetration on face "a"; center in feet, size in inches: a diameter or (width, height)."""
    cx, cy = x * FT, y * FT
    if isinstance(size, tuple):
        poly = box(cx - size[0] * IN / 2, cy - size[1] * IN / 2, cx + size[0] * IN / 2, cy + size[1] * IN / 2)
    else:
        r = size * IN / 2
        poly = Polygon(
            [(cx + r * math.cos(t * math.tau / 32), cy + r * math.sin(t * math.tau / 32)) for t in range(32)]
        )
    return Penetration(name, "a", kind, poly, runs)  # type: ignore[arg-type]


def house(
    penetrations: tuple[Penetration, ...] = (), openings: tuple[Opening, ...] = (), attachments: tuple[Attachment, ...] = (),
    barrier: str = "self-adhered-sheet", wide: float = 40, tall: float = 18, outline: Polygon | None = None, **scope: Any,
) -> Plan:  # fmt: skip
    """Four walls; everything hangs on the first, face "a"."""
    faces: list[Face] = []
    for k, w in enumerate((wide, 24, wide, 24)):
        shape = outline if k == 0 and outline is not None else rect(0, 0, w, tall)
        made = face("abcd"[k], k, shape, "abcd"[k - 1], "abcd"[(k + 1) % 4], None, openings if k == 0 else (),
                    attachments=attachments if k == 0 else ())  # fmt: skip
        faces.append(replace(made, penetrations=penetrations if k == 0 else ()))
    return plan(faces, assemblies=(skin(barrier),), **scope)


ONE_OF_EACH = (
    through("dryer", "duct", 3, 3, 4, "dryer"),
    through("range", "duct", 6, 8, 6, "range hood"),
    through("odd", "duct", 9, 3, 8, "bath fan"),
    through("gas", "pipe", 12, 3, 1.315, "gas"),
    through("vent", "pipe", 15, 9, 4.5, "plumbing vent"),
    through("wide", "pipe", 18, 3, 2.875, "water"),
    through("data", "cable", 21, 10, 0.5, "data"),
    through("feed", "cable", 24, 3, 1.5, "power"),
    through("lines", "bundle", 27, 6, (6, 2), "heat pump"),
    through("lamp", "box", 30, 7, (4, 4), "power"),
    through("panel", "box", 33, 3, (12, 14), "power"),
    through("hook", "bracket", 36, 12, (4, 4)),
    through("meter", "meter", 36, 5, (12, 18), "power"),
    through("flue", "pipe", 33, 12, 4, "flue"),
)


def random_pipes(seed: int) -> Plan:
    """A wall with openings of every state and penetrations of every kind wherever they do not cover each other."""
    rng = random.Random(seed)
    openings: list[Opening] = []
    for n in range(rng.randrange(0, 6)):
        o = opening(
            "a",
            f"w{n}",
            rng.uniform(1, 36),
            rng.uniform(1, 14),
            rng.uniform(1, 4),
            rng.uniform(1, 4),
            rng.choice(STATES),
        )
        if o.polygon.bounds[2] < 39 * FT and o.polygon.bounds[3] < 17 * FT and not any(
            o.polygon.buffer(0.5).intersects(p.polygon) for p in openings
        ):  # fmt: skip
            openings.append(o)
    made: list[Penetration] = []
    sizes: dict[str, list[Any]] = {
        "duct": [4, 6, 7.5], "pipe": [0.6, 1.315, 2, 2.9, 4.5], "cable": [0.4, 1.2, 3], "bundle": [(5, 2), (3, 3)],
        "box": [(4, 4), (3, 4.5), (10, 8)], "bracket": [(4, 4), (1, 1)], "meter": [(12, 18)],
    }  # fmt: skip
    for n in range(rng.randrange(4, 16)):
        kind = rng.choice(sorted(sizes))
        # most lie anywhere, some close beside an opening, where room is short
        x, y = rng.uniform(0.8, 39), rng.uniform(0.8, 17)
        if openings and rng.random() < 0.3:
            a0, b0, a1, b1 = rng.choice(openings).polygon.bounds
            x, y = rng.uniform(a0 / FT - 1, a1 / FT + 1), rng.uniform(b0 / FT - 1, b1 / FT + 1)
        p = through(f"p{n}", kind, x, y, rng.choice(sizes[kind]), rng.choice(("", "flue", "power", "water")))
        free = all(p.polygon.distance(q.polygon) > 0.002 for q in (*openings, *made))
        if free and rect(0, 0, 40, 18).buffer(-0.03).covers(p.polygon):
            made.append(p)
    return house(tuple(made), tuple(openings), barrier=rng.choice(("self-adhered-sheet", "fastened-sheet")))
