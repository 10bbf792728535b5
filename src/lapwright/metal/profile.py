"""A bent profile: legs and the turns between them, its flat width, its folded outline.

A profile is a line of legs in the plane across the metal. Leg lengths are the finished outside sizes; a
turn is how far the line bends at the end of a leg, + to the left as one walks along it. A hem is a last leg
folded flat (180 degrees).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

# Where the neutral line lies, as a part of the thickness from the inside: 0.64 T = (pi / 2) K T for soft steel and
# aluminum in the usual handbook rule L = 0.64 T + 1.57 R for a right angle (from memory)
K_FACTOR = 0.64 / (math.pi / 2)
FLAT_HEM_DEG = 180.0
HEM_SHARE = 0.43  # a closed hem takes 0.43 T from the blank (handbook rule, from memory)

Point = tuple[float, float]


@dataclass(frozen=True)
class Profile:
    """legs: outside lengths, metres, all > 0; turns: one less, degrees within +-180; thickness_m > 0;
    radius_m: inside radius of a bend, >= 0; deduction_m: taken off for each bend instead of working it out, or None.

    Raises ValueError when the numbers do not fit together.
    """

    legs: tuple[float, ...]
    turns: tuple[float, ...]
    thickness_m: float
    radius_m: float = 0.0
    deduction_m: float | None = None

    def __post_init__(self) -> None:
        if len(self.turns) != len(self.legs) - 1:
            raise ValueError("a profile has one turn less than it has legs")
        if not self.legs or min(self.legs) <= 0 or self.thickness_m <= 0 or self.radius_m < 0:
            raise ValueError("legs and thickness are more than nothing")
        if any(not 0 < abs(t) <= FLAT_HEM_DEG for t in self.turns):
            raise ValueError("a turn is between 0 and 180 degrees")
        edges = [0.0, *self.bend_lines(), self.developed()]
        if any(b <= a for a, b in pairwise(edges)):
            raise ValueError("a leg is shorter than what its bends take off")

    def deductions(self) -> tuple[float, ...]:
        """Return what each bend takes off the sum of the outside legs, metres."""
        return tuple(
            HEM_SHARE * self.thickness_m
            if abs(abs(t) - FLAT_HEM_DEG) < 1e-9
            else bend_deduction(self.thickness_m, self.radius_m, abs(t))
            if self.deduction_m is None
            else self.deduction_m
            for t in self.turns
        )

    def developed(self) -> float:
        """Return the width of the blank, metres."""
        return math.fsum(self.legs) - math.fsum(self.deductions())

    def bend_lines(self) -> tuple[float, ...]:
        """Return where each bend lies across the blank, from the start of the first leg, metres (its middle)."""
        out, at = [], 0.0
        taken = self.deductions()
        for n, leg in enumerate(self.legs[:-1]):
            at += leg - taken[n] / 2 - (taken[n - 1] / 2 if n else 0.0)
            out.append(at)
        return tuple(out)

    def folded(self, heading_deg: float = -90.0) -> list[Point]:
        """Return the corners of the finished profile, from (0, 0), the first leg in that direction.

        A hem is drawn one thickness off the leg it lies on.
        """
        return line_of(self.legs, self.turns, heading_deg, self.thickness_m)

    def crosses_itself(self) -> bool:
        """Return whether the finished profile runs through itself."""
        points = self.folded()
        sides = list(pairwise(points))
        return any(
            _cross(*sides[i], *sides[j]) for i in range(len(sides)) for j in range(i + 2, len(sides))
        )


def bend_allowance(thickness_m: float, radius_m: float, turn_deg: float, k: float = K_FACTOR) -> float:
    """Return the length of the neutral line through a bend: angle x (R + K T), metres. turn_deg in (0, 180].

    >>> round(bend_allowance(1.0, 0.0, 90), 4)
    0.64
    """
    return math.radians(turn_deg) * (radius_m + k * thickness_m)


def bend_deduction(thickness_m: float, radius_m: float, turn_deg: float, k: float = K_FACTOR) -> float:
    """Return what a bend takes off the sum of its outside legs: 2 tan(angle / 2) (R + T) - allowance, metres.

    turn_deg in (0, 180); beyond 150 degrees the outside setback loses its sense and that of 150 is used.
    """
    setback = math.tan(math.radians(min(turn_deg, 150.0)) / 2) * (radius_m + thickness_m)
    return 2 * setback - bend_allowance(thickness_m, radius_m, min(turn_deg, 150.0), k)


def line_of(
    legs: tuple[float, ...], turns: tuple[float, ...], heading_deg: float, thickness_m: float = 0.0
) -> list[Point]:
    """Return the corners of a line of legs; a flat hem is set off by the thickness."""
    x = y = 0.0
    heading = math.radians(heading_deg)
    out = [(x, y)]
    for n, leg in enumerate(legs):
        x, y = x + leg * math.cos(heading), y + leg * math.sin(heading)
        out.append((x, y))
        if n < len(turns):
            if abs(abs(turns[n]) - FLAT_HEM_DEG) < 1e-9 and thickness_m:
                side = math.copysign(math.pi / 2, turns[n])
                x, y = x + thickness_m * math.cos(heading + side), y + thickness_m * math.sin(heading + side)
                out.append((x, y))
            heading += math.radians(turns[n])
    return out


def _cross(a: Point, b: Point, c: Point, d: Point) -> bool:
    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < -1e-18 and side(c, d, a) * side(c, d, b) < -1e-18
