"""Twenty small faces, and the least drawn length of any course lines on them, by trying every one.

Written from the rules alone: a course is as tall as the roll is wide at most and 8 in at least, its top lies on the
grid of heights, the last ends at the top of the wall; it starts one lap under the top of the one before. It is drawn
over the width of what stands between its edges, openings that take all of its height left out; two courses of half
the roll's width or less lie side by side on the roll. A branch is left when what is drawn so far and the bare wall
that is left, over the roll's width, is no less than the best found: nothing better is lost.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field

from shapely import Polygon, box, union_all
from shapely.geometry.base import BaseGeometry

IN = 0.0254
LEAST_M = 8 * IN
GRID_M = 0.5 * IN
ROLLS_M = (36 * IN, 40 * IN, 60 * IN)
LAPS_M = (4 * IN, 6 * IN)


@dataclass
class SmallFace:
    """A wall with openings, the roll and the lap. `bands`: widths already measured."""

    wall: Polygon
    holes: list[Polygon]
    roll_m: float
    lap_m: float
    bands: dict[tuple[float, float], float] = field(default_factory=dict)

    @property
    def bare(self) -> BaseGeometry:
        """What is to be covered."""
        return self.wall.difference(union_all(self.holes))

    def width(self, low: float, high: float) -> float:
        """Return the width of what stands between two heights, in metres."""
        key = round(low, 6), round(high, 6)
        if key not in self.bands:
            band = self.bare.intersection(box(-99, low, 99, high))
            parts = [g.bounds for g in getattr(band, "geoms", [band]) if g.area > 1e-9]
            total, end = 0.0, -math.inf
            for a, _, b, _ in sorted(parts):
                total += max(0.0, b - max(a, end))
                end = max(end, b)
            self.bands[key] = total
        return self.bands[key]

    def drawn(self, low: float, high: float) -> float:
        """Return the length of roll that a course takes: half of its width where two lie side by side."""
        share = 0.5 if high - low <= self.roll_m / 2 + 1e-9 else 1.0
        return share * self.width(low, high)


def small_face(seed: int) -> SmallFace:
    """Return the face of a seed: 6 to 14 ft wide, 5 to 8 ft high, flat or gabled, with up to three openings."""
    rng = random.Random(seed)
    wide, high = rng.randint(72, 168) * IN, rng.randint(60, 96) * IN
    top = [(wide, high), (0.0, high)]
    if rng.random() < 0.3:
        top = [(wide, high - 24 * IN), (wide / 2, high), (0.0, high - 24 * IN)]
    wall = Polygon([(0, 0), (wide, 0), *top])
    holes: list[Polygon] = []
    for _ in range(rng.randint(0, 3)):
        w, h = rng.randint(16, 48) * IN, rng.randint(12, 60) * IN
        x, y = rng.uniform(3 * IN, max(wide - w - 3 * IN, 4 * IN)), rng.uniform(0, high - 12 * IN)
        hole = box(x, y, x + w, y + h)
        if wall.buffer(-1 * IN).contains(hole) and not any(hole.distance(o) < 6 * IN for o in holes):
            holes.append(hole)
    return SmallFace(wall, holes, rng.choice(ROLLS_M), rng.choice(LAPS_M))


def least_drawn(face: SmallFace) -> float:
    """Return the least drawn length of any choice of course lines, in metres, and exact."""
    _, low, _, high = face.wall.bounds
    grid = [k * GRID_M for k in range(math.ceil(low / GRID_M), math.ceil(high / GRID_M)) if k * GRID_M > low + 1e-9]
    above = {t: face.bare.intersection(box(-99, t, 99, 99)).area for t in grid}
    best = math.inf

    def on(top: float, bottom: float, so_far: float) -> None:
        """Try every next course that starts at `bottom`; `top` is the top of the one below."""
        nonlocal best
        if high - bottom <= face.roll_m + 1e-9 and (high - bottom >= LEAST_M - 1e-9 or top == low):
            best = min(best, so_far + face.drawn(bottom, high))
        reach = [t for t in grid if top + 1e-9 < t <= bottom + face.roll_m + 1e-9 and t - bottom >= LEAST_M - 1e-9]
        for t in reversed(reach):
            cost = so_far + face.drawn(bottom, t)
            if cost + above[t] / face.roll_m < best - 1e-9:
                on(t, t - face.lap_m, cost)

    on(low, low, 0.0)
    return best
