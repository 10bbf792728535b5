"""Does the tape close? The test of a ring of widths and turns, its adjustment, and the hunt for a blunder.

A ring of n faces gives n widths w and n turns t and must obey three conditions:

    sum t = 360 deg,   sum w cos h = 0,   sum w sin h = 0,   h_i = t_1 + ... + t_(i-1)

The adjustment is least squares with conditions (Helmert): corrections v of least v' Q^-1 v such that the
corrected figures obey all three, iterated because the conditions are curved. v' Q^-1 v of a ring without
blunder follows the chi-square law with three degrees of freedom; that is the test. Errors are given as
a carpenter gives them, "give or take, 19 times of 20", so one standard deviation is the error / 1.96.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from lapwright.survey.walk import corners

Array = np.ndarray[Any, np.dtype[np.float64]]
TWO_SIDED_95 = 1.959963984540054  # standard deviations that hold 95 % of a normal law (both sides)
# "Inches in 150 ft is tape error, a foot is a blunder" (common practice): the border lies between them.
BLUNDER_M = 9 * 0.0254
BLUNDER_RATIO = BLUNDER_M / (150 * 12 * 0.0254)
FREE = 100.0  # standard deviation of a freed figure, m or rad: its taped value no longer counts
STEPS = 30  # Newton steps; converges in 3 to 8 unless the figures are far from any ring

MOST_FACES = 400  # rings beyond this are tested, but not searched for the blunder: own choice
MOST_CORNERS = 120  # rings beyond this are not searched for a telling diagonal: own choice


@dataclass(frozen=True)
class Suspect:
    """One figure that alone could hold the blunder.

    index: face in walking order; kind: its width (metres) or its turn (degrees); taped, corrected: its values;
    chi2: misfit of all other figures once it is corrected, 2 degrees of freedom.
    """

    index: int
    kind: Literal["width", "turn"]
    taped: float
    corrected: float
    chi2: float


@dataclass(frozen=True)
class Measure:
    """The one extra measurement that tells the suspects apart.

    start, end: corners (corner i is the left end of face i); meters: what it reads under each suspect, in the
    suspects' order; groups: how many readings can be told apart; apart_m: least difference between those;
    retape: the two corners are the ends of one face.
    """

    start: int
    end: int
    meters: tuple[float, ...]
    groups: int
    apart_m: float
    retape: bool


@dataclass(frozen=True)
class Closure:
    """What the closure test of one ring says.

    misclosure_m: (x, y) from the start to where the walk ends, first face along +x; turn_m: its length;
    angle_deg: sum of turns - 360; chi2 against limit (3 degrees of freedom at `confidence`);
    widths_m, turns_deg: adjusted figures, None when the ring is open; suspects: best fit first.
    """

    misclosure_m: tuple[float, float]
    length_m: float
    perimeter_m: float
    angle_deg: float
    chi2: float
    limit: float
    confidence: float
    closes: bool
    widths_m: tuple[float, ...] | None
    turns_deg: tuple[float, ...] | None
    suspects: tuple[Suspect, ...] = ()
    measure: Measure | None = None

    @property
    def ratio(self) -> float:
        """Misclosure over perimeter."""
        return self.length_m / self.perimeter_m


def chi2_limit(confidence: float, freedom: int) -> float:
    """Return the value that a chi-square sum stays below with this confidence; freedom 1, 2 or 3.

    >>> [round(chi2_limit(0.95, k), 3) for k in (1, 2, 3)]
    [3.841, 5.991, 7.815]
    """
    low, high = 0.0, 200.0
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (middle, high) if _chi2_below(middle, freedom) < confidence else (low, middle)
    return high


def _chi2_below(x: float, freedom: int) -> float:
    """Return the chance that a chi-square sum stays below x; closed forms for 1, 2 and 3."""
    if freedom == 2:
        return 1 - math.exp(-x / 2)
    tail = math.sqrt(2 * x / math.pi) * math.exp(-x / 2) if freedom == 3 else 0.0
    return math.erf(math.sqrt(x / 2)) - tail


def conditioned(
    observed: Array, covariance: Array, conditions: Callable[[Array], tuple[Array, Array]]
) -> tuple[Array, float]:
    """Return (adjusted values, v' Q^-1 v) of least squares with conditions.

    observed: n values; covariance: their variances (n) or covariance Q (n x n); a large variance frees a value;
    conditions(x) -> (f, B): c condition values that must vanish and their c x n derivatives.
    Raises ArithmeticError when Newton's steps do not converge.
    Source: least squares with condition equations, e.g. E. M. Mikhail, Observations and Least Squares (1976).
    """
    x = observed.copy()
    scale = max(1.0, float(np.abs(observed).max()))
    for _ in range(STEPS):
        f, b = conditions(x)
        gap = f + b @ (observed - x)
        spread = (b * covariance if covariance.ndim == 1 else b @ covariance).T
        correlate = np.linalg.lstsq(b @ spread, gap, rcond=None)[0]
        step = observed - spread @ correlate - x
        x = x + step
        if not float(np.abs(x).max()) < 1e6 * scale:  # running away, or not a number
            break
        if float(np.abs(step).max()) < 1e-12 * scale:
            return x, float(gap @ correlate)
    raise ArithmeticError("the adjustment does not converge")


def ring_conditions(n: int) -> Callable[[Array], tuple[Array, Array]]:
    """Return the three conditions of a ring of n faces; values: n widths (m), then n turns (radians)."""

    def conditions(x: Array) -> tuple[Array, Array]:
        widths, turns = x[:n], x[n:]
        heading = np.concatenate([[0.0], np.cumsum(turns)[:-1]])
        dx, dy = widths * np.cos(heading), widths * np.sin(heading)
        f = np.array([turns.sum() - 2 * math.pi, dx.sum(), dy.sum()])
        b = np.zeros((3, 2 * n))
        b[0, n:] = 1.0
        b[1, :n], b[2, :n] = np.cos(heading), np.sin(heading)
        # Turn j swings every face after it about the corner at its end.
        after_x, after_y = dx[::-1].cumsum()[::-1], dy[::-1].cumsum()[::-1]
        b[1, n : 2 * n - 1], b[2, n : 2 * n - 1] = -after_y[1:], after_x[1:]
        return f, b

    return conditions


def close_ring(
    widths_m: Sequence[float],
    turns_deg: Sequence[float],
    length_error_m: float = 0.25 * 0.0254,
    turn_error_deg: float = 1.0,
    confidence: float = 0.95,
    rule_of_thumb: bool = True,
) -> Closure:
    """Test a closed ring of faces, adjust it when it closes, and hunt for the blunder when it does not.

    widths in metres (> 0), turns in degrees at the right ends, three faces or more; errors > 0 as given on the
    tape block; confidence in (0, 1). rule_of_thumb: also call it open when the gap is more than 9 in, or than
    9 in for 150 ft of walk, and more than all tape errors together (in a big house turn errors of 1 degree
    would hide a foot).
    """
    ring = _Ring(widths_m, turns_deg, length_error_m, turn_error_deg, confidence, rule_of_thumb)
    ends = corners(widths_m, turns_deg)[-1]
    angle = math.fsum(turns_deg) - 360.0
    try:
        adjusted, chi2 = conditioned(ring.observed, ring.variances, ring.conditions)
        closes = chi2 <= ring.limit(3) and not ring.by_thumb(ring.observed)
    except ArithmeticError:
        adjusted, chi2, closes = ring.observed, ring.first_chi2(), False
    suspects: list[tuple[Suspect, Array]] = [] if closes else ring.suspects()
    n = ring.n
    return Closure(
        misclosure_m=ends,
        length_m=math.hypot(*ends),
        perimeter_m=math.fsum(widths_m),
        angle_deg=angle,
        chi2=chi2,
        limit=ring.limit(3),
        confidence=confidence,
        closes=closes,
        widths_m=tuple(adjusted[:n].tolist()) if closes else None,
        turns_deg=tuple(np.degrees(adjusted[n:]).tolist()) if closes else None,
        suspects=tuple(s for s, _ in suspects),
        measure=telling_measure([_spots(x) for _, x in suspects], [s for s, _ in suspects], length_error_m),
    )


def _spots(x: Array) -> Array:
    """Return the corners (n x 2) of adjusted figures."""
    n = len(x) // 2
    return np.array(corners(x[:n].tolist(), np.degrees(x[n:]).tolist())[:-1])


def telling_measure(spots: Sequence[Array], suspects: Sequence[Suspect], length_error_m: float) -> Measure | None:
    """Return the distance between two corners that tells most suspects apart, widest; None with no suspect.

    spots: the corners (n x 2) each suspect leads to. Diagonals come before taping a face again; readings
    closer than two tape errors count as the same.
    """
    if not suspects or len(spots[0]) > MOST_CORNERS:
        return None
    n, same = len(spots[0]), 2 * length_error_m
    if len(suspects) == 1:
        k, wide = suspects[0].index, suspects[0].kind == "turn"
        start, end = sorted((k, (k + 2 if wide else k + 1) % n))
        return _read(spots, start, end, same)
    found = [_read(spots, a, b, same) for a in range(n) for b in range(a + 1, n)]
    return max(found, key=lambda m: (m.groups, not m.retape, round(m.apart_m, 6), -m.start, -m.end))


def _read(spots: Sequence[Array], start: int, end: int, same_m: float) -> Measure:
    reads = [float(np.hypot(*(s[end] - s[start]))) for s in spots]
    ordered = sorted(reads)
    splits = [b - a for a, b in itertools.pairwise(ordered) if b - a > same_m]
    retape = end - start in (1, len(spots[0]) - 1)
    return Measure(start, end, tuple(reads), len(splits) + 1, min(splits, default=0.0), retape)


class _Ring:
    """The figures of one ring with their errors: what the adjustment and the hunt work on."""

    def __init__(
        self, widths: Sequence[float], turns: Sequence[float], length_error: float, turn_error: float,
        confidence: float, rule_of_thumb: bool,
    ) -> None:  # fmt: skip
        self.n = len(widths)
        self.observed = np.array([*widths, *(math.radians(t) for t in turns)])
        sd = np.array([length_error] * self.n + [math.radians(turn_error)] * self.n) / TWO_SIDED_95
        self.variances = sd**2
        self.conditions = ring_conditions(self.n)
        self.length_error = length_error
        self.confidence = confidence
        self.rule_of_thumb = rule_of_thumb

    def limit(self, freedom: int) -> float:
        return chi2_limit(self.confidence, freedom)

    def first_chi2(self) -> float:
        """Return the misfit by the first step alone, where the whole way does not converge."""
        f, b = self.conditions(self.observed)
        return float(f @ np.linalg.lstsq((b * self.variances) @ b.T, f, rcond=None)[0])

    def by_thumb(self, x: Array) -> bool:
        """Return whether the gap of these figures is a blunder by rule of thumb."""
        if not self.rule_of_thumb:
            return False
        f, _ = self.conditions(x)
        gap, perimeter = math.hypot(f[1], f[2]), float(x[: self.n].sum())
        return gap > min(BLUNDER_M, BLUNDER_RATIO * perimeter) and gap > self.n * self.length_error

    def suspects(self) -> list[tuple[Suspect, Array]]:
        """Return every figure that alone, corrected, closes the ring, with the ring it leads to; best first."""
        out: list[tuple[Suspect, Array]] = []
        if self.n > MOST_FACES:
            return out
        for k in range(2 * self.n):
            found = self._freed(k)
            if found is not None:
                out.append(found)
        return sorted(out, key=lambda s: (round(s[0].chi2, 6), s[0].kind != "width", s[0].index))

    def _freed(self, k: int) -> tuple[Suspect, Array] | None:
        """Return the suspect that figure k is, or None. It is freed: the others alone decide its value."""
        n = self.n
        start = self.observed.copy()
        if k >= n:  # the sum of turns tells a wrong turn nearly; Newton's steps need to start near it
            start[k] += 2 * math.pi - float(start[n:].sum())
        free = self.variances.copy()
        free[k] = FREE**2
        try:
            adjusted, chi2 = conditioned(start, free, self.conditions)
        except ArithmeticError:
            return None
        chi2 -= float((adjusted[k] - start[k]) / FREE) ** 2
        corrected = self.observed.copy()
        corrected[k] = adjusted[k]
        if chi2 > self.limit(2) or self.by_thumb(corrected):
            return None
        value, taped = float(adjusted[k]), float(self.observed[k])
        if k < n:
            return (Suspect(k, "width", taped, value, chi2), adjusted) if value > 0 else None
        value, taped = math.degrees(value), math.degrees(taped)
        return (Suspect(k - n, "turn", taped, value, chi2), adjusted) if abs(value) < 360 else None
