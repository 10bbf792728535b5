"""An order of bends that a simple leaf brake can do, found by trying them in the plane.

The brake clamps the blank along a bend line between a bed (below) and a jaw (above, beveled back from its
nose) and swings a leaf up by the turn. Everything in front of the line swings; everything behind it stays
clamped, over the bed and under the bevel of the jaw, or hanging out behind it. Before each bend the blank may be turned
end for end and over, so that every bend is made upwards. A leg is trapped when, at its turn, metal already bent
would have to go through the jaw, the bed or itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise, permutations

from lapwright.metal.profile import FLAT_HEM_DEG, Point, Profile

JAW_BEVEL_DEG = 45.0  # of the jaw's front face from the level: common on site brakes, no source
JAW_HEIGHT_M = 0.05  # of the jaw above the bed: common practice
THROAT_M = 0.45  # how far behind the nose the blank may reach: common practice, 18 in
BED_M = 0.012  # least width of metal that the jaw can clamp: common practice, 1/2 in
LEAF_DEG = 135.0  # how far the leaf swings; a hem is first bent that far, then pressed flat: common practice
STEPS = 12  # positions looked at while the leaf swings
MOST_BENDS = 7  # orders are tried one by one: 7! = 5040


@dataclass(frozen=True)
class Bend:
    """One stroke of the brake: which bend line (counted from the start of the first leg), how far, and how the blank
    lies: `front` is the side that swings (start | end), `face` the side of the metal that looks up (left | right of one who
    walks towards the front)."""

    line: int
    turn_deg: float
    front: str
    face: str
    hem: bool


def bend_order(profile: Profile) -> tuple[Bend, ...] | None:
    """Return an order of bends in which no leg is trapped, or None when there is none.

    Of all orders the one with the fewest turnings of the blank; hems first where that goes. Raises ValueError for more
    than `MOST_BENDS` bends.
    """
    count = len(profile.turns)
    if count > MOST_BENDS:
        raise ValueError(f"more than {MOST_BENDS} bends")
    best: tuple[int, tuple[Bend, ...]] | None = None
    for order in permutations(range(count)):
        found = _tried(profile, order)
        if found is not None and (best is None or found[0] < best[0]):
            best = found
            if best[0] == 0:
                break
    return best[1] if best else None


def _tried(profile: Profile, order: tuple[int, ...]) -> tuple[int, tuple[Bend, ...]] | None:
    """Return (turnings, bends) of an order, or None when a leg is trapped."""
    done: frozenset[int] = frozenset()
    bends: list[Bend] = []
    for k in order:
        last = (bends[-1].front, bends[-1].face) if bends else None
        ways = sorted(_ways(profile, done, k), key=lambda w: (w != last, w))
        if not ways:
            return None
        turn = profile.turns[k]
        hem = abs(abs(turn) - FLAT_HEM_DEG) < 1e-9
        bends.append(Bend(k, turn, ways[0][0], ways[0][1], hem))
        done |= {k}
    turned = sum((a.front, a.face) != (b.front, b.face) for a, b in pairwise(bends))
    return turned, tuple(bends)


@lru_cache(maxsize=4096)
def _ways(profile: Profile, done: frozenset[int], k: int) -> tuple[tuple[str, str], ...]:
    """Return how the blank may lie for bend k when the bends `done` are made."""
    out = []
    for front in ("end", "start"):
        legs = profile.legs if front == "end" else profile.legs[::-1]
        turns = profile.turns if front == "end" else tuple(-t for t in profile.turns[::-1])
        line = k if front == "end" else len(turns) - 1 - k
        made = done if front == "end" else frozenset(len(turns) - 1 - d for d in done)
        # the bend has to go up: turn the blank over when it would go down
        face = "left" if turns[line] > 0 else "right"
        if face == "right":
            turns = tuple(-t for t in turns)
        if _goes(legs, turns, made, line, profile.thickness_m):
            out.append((front, face))
    return tuple(out)


def _goes(legs: tuple[float, ...], turns: tuple[float, ...], made: frozenset[int], k: int, thick: float) -> bool:
    """Return whether bend k (upwards, its front side the legs after it) can be made with the bends `made` in place."""
    if legs[k] < BED_M and k > 0 and (k - 1) in made:
        return False  # too narrow to clamp between two bends
    state = tuple(t if n in made else 0.0 for n, t in enumerate(turns))
    back = _walk(legs[k::-1], tuple(-t for t in state[:k][::-1]), math.pi)
    front_turns = state[k + 1 :]
    if _hits_bed(back) or _hits_jaw(back, thick):
        return False
    target = min(abs(turns[k]), LEAF_DEG)
    for step in range(STEPS + 1):
        angle = math.radians(target) * step / STEPS
        front = _walk(legs[k + 1 :], front_turns, angle)
        if _hits_jaw(front, thick) or _meet(front, back):
            return False
        if step == 0 and any(y < -1e-9 and x < 0 for x, y in front):
            return False
    return True


def _walk(legs: tuple[float, ...], turns: tuple[float, ...], heading: float) -> list[Point]:
    x = y = 0.0
    out = [(x, y)]
    for n, leg in enumerate(legs):
        x, y = x + leg * math.cos(heading), y + leg * math.sin(heading)
        out.append((x, y))
        if n < len(turns):
            heading += math.radians(turns[n])
    return out


def _hits_bed(points: list[Point]) -> bool:
    """Return whether metal behind the line dips below the bed's top, within the brake."""
    return any(y < -1e-9 and x > -THROAT_M for x, y in _dense(points))


def _hits_jaw(points: list[Point], thick: float) -> bool:
    """Return whether metal runs into the jaw: behind its beveled front face, above the metal it clamps."""
    slope = math.tan(math.radians(JAW_BEVEL_DEG))
    return any(thick < y < JAW_HEIGHT_M and -THROAT_M < x < -y / slope - 1e-9 for x, y in _dense(points))


def _dense(points: list[Point]) -> Iterator[Point]:
    """Yield points along a line, its ends and every few millimetres between."""
    for (x0, y0), (x1, y1) in pairwise(points):
        n = max(1, math.ceil(math.hypot(x1 - x0, y1 - y0) / 0.004))
        for i in range(n + 1):
            yield x0 + (x1 - x0) * i / n, y0 + (y1 - y0) * i / n


def _meet(front: list[Point], back: list[Point]) -> bool:
    """Return whether the swinging side runs into the clamped side."""
    for a, b in list(pairwise(front))[1:]:
        for c, d in pairwise(back):
            if _proper(a, b, c, d):
                return True
    return False


def _proper(a: Point, b: Point, c: Point, d: Point) -> bool:
    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < -1e-18 and side(c, d, a) * side(c, d, b) < -1e-18
