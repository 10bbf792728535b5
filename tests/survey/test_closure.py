"""The closure test: adjustment against other people's figures and another solver, and the hunt for a blunder."""

from __future__ import annotations

import csv
import itertools
import math
import os
import random
from pathlib import Path

import numpy as np
import pytest
import scipy.optimize
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.survey.closure import TWO_SIDED_95, chi2_limit, close_ring, conditioned
from lapwright.survey.walk import corners

DATA = Path(__file__).parents[1] / "outside" / "data"
SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
FOOT = 0.3048
INCH = 0.0254

# Plans that close, in feet: name -> (widths, turns).
PLANS = {
    "box": ([40, 35, 40, 35], [90, 90, 90, 90]),
    "ell": ([40, 20, 15, 15, 25, 35], [90, 90, -90, 90, 90, 90]),
    "tee": ([12, 10, 14, 20, 38, 20, 12, 10], [90, -90, 90, 90, 90, 90, -90, 90]),
    "bay": ([10, 4, 6, 4, 10, 24, 26 + 4 * 2**0.5, 24], [-45, 45, 45, -45, 90, 90, 90, 90]),
}


def rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open() as stream:
        return list(csv.DictReader(line for line in stream if not line.startswith("#")))


def feet(widths: list[float]) -> list[float]:
    return [w * FOOT for w in widths]


# ---------------------------------------------------------------- the adjustment


def test_the_compass_rule_is_a_special_case_of_the_adjustment() -> None:
    """Lengths and directions of variance k L and k / L give every course its share of the gap by length.

    With that weighting the error of a course is the same along it and across it, k L, so least squares with
    the two position conditions spreads the gap in proportion to L: Bowditch's rule. To first order the
    adjusted latitudes and departures are the textbook's; the rest is the curvature, far below its 0.01.
    """
    table = rows("compass_rule.csv")
    n = len(table)
    lengths = np.array([float(r["length"]) for r in table])
    azimuths = np.radians([float(r["azimuth_deg"]) + float(r["azimuth_min"]) / 60 for r in table])

    def conditions(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        length, azimuth = x[:n], x[n:]
        lat, dep = length * np.cos(azimuth), length * np.sin(azimuth)
        f = np.array([lat.sum(), dep.sum()])
        b = np.array([[*np.cos(azimuth), *-dep], [*np.sin(azimuth), *lat]])
        return f, b

    variances = np.concatenate([lengths, 1 / lengths]) * 1e-6
    x, _ = conditioned(np.concatenate([lengths, azimuths]), variances, conditions)
    lat, dep = x[:n] * np.cos(x[n:]), x[:n] * np.sin(x[n:])
    assert abs(lat.sum()) < 1e-9 and abs(dep.sum()) < 1e-9
    # Printed figures are rounded three times on the way (course, correction, sum): 0.015 is that.
    assert lat == pytest.approx([float(r["balanced_latitude"]) for r in table], abs=0.015)
    assert dep == pytest.approx([float(r["balanced_departure"]) for r in table], abs=0.015)
    # And against the rule itself, unrounded.
    raw_lat, raw_dep = lengths * np.cos(azimuths), lengths * np.sin(azimuths)
    share = lengths / lengths.sum()
    assert lat == pytest.approx(raw_lat - raw_lat.sum() * share, abs=2e-3)
    assert dep == pytest.approx(raw_dep - raw_dep.sum() * share, abs=2e-3)


def test_our_walk_gives_the_textbooks_courses_and_corners() -> None:
    """The corners of the walk are the traverse's latitudes and departures, turned to our axes."""
    table = rows("compass_rule.csv")
    azimuth = [float(r["azimuth_deg"]) + float(r["azimuth_min"]) / 60 for r in table]
    lengths = [float(r["length"]) for r in table]
    turns = [azimuth[i] - azimuth[(i + 1) % len(azimuth)] for i in range(len(azimuth))]
    spots = corners(lengths, turns, first_deg=90 - azimuth[0])
    for (x0, y0), (x1, y1), row in zip(spots, spots[1:], table, strict=False):
        assert x1 - x0 == pytest.approx(float(row["departure"]), abs=0.06)  # azimuths are given to 5 minutes
        assert y1 - y0 == pytest.approx(float(row["latitude"]), abs=0.06)


def test_the_adjustment_agrees_with_another_program_on_a_leveling_loop() -> None:
    table = rows("leveling_loop.csv")
    observed = np.array([float(r["observed_m"]) for r in table])
    b = np.zeros((5, 8))
    b[0, :4] = 1.0  # once round
    for k, (there, back) in enumerate([(0, 7), (1, 6), (2, 5), (3, 4)], start=1):
        b[k, there] = b[k, back] = 1.0
    adjusted, chi2 = conditioned(observed, np.full(8, 0.005**2), lambda x: (b @ x, b))
    assert adjusted == pytest.approx([float(r["adjusted_m"]) for r in table], abs=0.6e-5)
    assert chi2 * 25 == pytest.approx(146.625, abs=0.01)  # printed for weights (5 mm)^2 / (5 mm)^2 in mm2


@pytest.mark.parametrize("name", ["box", "ell", "tee", "bay"])
def test_the_adjustment_agrees_with_a_general_minimizer(name: str) -> None:
    """Minimize the weighted squares under the three conditions, written out by complex numbers (SLSQP)."""
    widths, turns = PLANS[name]
    n = len(widths)
    rng = random.Random(name)
    taped = np.array([w * FOOT + rng.gauss(0, 0.003) for w in widths])
    turned = np.array([math.radians(t + rng.gauss(0, 0.3)) for t in turns])
    sd = np.array([0.25 * INCH] * n + [math.radians(1)] * n) / TWO_SIDED_95
    observed = np.concatenate([taped, turned])

    def gap(v: np.ndarray) -> list[float]:
        x = observed + v * sd
        heading = np.concatenate([[0], np.cumsum(x[n:])[:-1]])
        end = (x[:n] * np.exp(1j * heading)).sum()
        return [float(x[n:].sum() - 2 * math.pi), float(end.real), float(end.imag)]

    other = scipy.optimize.minimize(
        lambda v: float(v @ v), np.zeros(2 * n), jac=lambda v: 2 * v, method="SLSQP",
        constraints={"type": "eq", "fun": gap}, options={"ftol": 1e-15, "maxiter": 500},
    )  # fmt: skip
    ours = close_ring(taped.tolist(), np.degrees(turned).tolist())
    assert ours.closes and ours.widths_m is not None and ours.turns_deg is not None
    assert ours.chi2 == pytest.approx(other.fun, rel=1e-4)
    best = observed + other.x * sd
    assert list(ours.widths_m) == pytest.approx(best[:n], abs=1e-6)
    assert list(ours.turns_deg) == pytest.approx(np.degrees(best[n:]), abs=1e-4)


def test_the_limits_are_those_of_the_chi_square_law() -> None:
    for freedom in (1, 2, 3):
        for confidence in (0.5, 0.9, 0.95, 0.99, 0.999):
            assert chi2_limit(confidence, freedom) == pytest.approx(scipy.stats.chi2.ppf(confidence, freedom), rel=1e-9)


def test_the_test_is_wrong_as_often_as_it_says() -> None:
    """Rings with the errors they claim are called open in one of twenty (three standard errors of the count)."""
    rng = random.Random(5)
    runs = 1500 * SOAK
    widths, turns = PLANS["ell"]
    open_count = sum(
        not close_ring(
            [w * FOOT + rng.gauss(0, 0.25 * INCH / 1.96) for w in widths],
            [t + rng.gauss(0, 1 / 1.96) for t in turns],
            rule_of_thumb=False,
        ).closes
        for _ in range(runs)
    )
    assert abs(open_count / runs - 0.05) < 3 * math.sqrt(0.05 * 0.95 / runs)


# ---------------------------------------------------------------- what it says about a house


@pytest.mark.parametrize("name", ["box", "ell", "tee", "bay"])
def test_a_ring_that_closes_is_left_as_it_is(name: str) -> None:
    widths, turns = PLANS[name]
    result = close_ring(feet(widths), turns)
    assert result.closes and result.length_m < 1e-9 and abs(result.angle_deg) < 1e-12
    assert result.widths_m == pytest.approx(feet(widths), abs=1e-9)
    assert result.suspects == () and result.measure is None


@pytest.mark.parametrize("name", ["box", "ell", "tee", "bay"])
def test_inches_in_150_ft_are_tape_error(name: str) -> None:
    widths, turns = PLANS[name]
    for k in range(len(widths)):
        taped = feet(widths)
        taped[k] += 1.0 * INCH
        assert close_ring(taped, turns).closes


@pytest.mark.parametrize("name", ["box", "ell", "tee", "bay"])
@pytest.mark.parametrize("by", [-1.0, 1.0, 3.0])
def test_a_foot_is_a_blunder_and_the_wall_is_among_those_named(name: str, by: float) -> None:
    widths, turns = PLANS[name]
    for k in range(len(widths)):
        taped = feet(widths)
        taped[k] += by * FOOT
        result = close_ring(taped, turns)
        assert not result.closes
        named = {(s.kind, s.index): s for s in result.suspects}
        assert ("width", k) in named, "the wall that holds the blunder is named"
        assert named["width", k].corrected == pytest.approx(widths[k] * FOOT, abs=1e-3)
        heading = _headings(turns)
        for kind, index in named:  # and only walls that run along the gap could make it
            if kind == "width":
                assert abs(math.sin(math.radians(heading[index] - heading[k]))) < 0.2


@pytest.mark.parametrize("name", ["box", "ell", "tee", "bay"])
@pytest.mark.parametrize("by", [-180, -20, 12, 45])
def test_a_wrong_turn_is_among_those_named(name: str, by: float) -> None:
    widths, turns = PLANS[name]
    for k in range(len(widths)):
        wrong = list(turns)
        wrong[k] += by
        result = close_ring(feet(widths), wrong)
        assert not result.closes
        found = [s for s in result.suspects if (s.kind, s.index) == ("turn", k)]
        assert found and found[0].corrected == pytest.approx(turns[k], abs=0.05)


def _headings(turns: list[float]) -> list[float]:
    return [sum(turns[:k]) for k in range(len(turns))]


@settings(max_examples=60 * SOAK, deadline=None, derandomize=SOAK == 1)
@given(st.sampled_from(["box", "ell", "tee"]), st.integers(0, 3), st.floats(1.0, 6.0), st.integers(0, 10**6))
def test_the_blunder_is_named_under_tape_error_too(name: str, k: int, by_ft: float, seed: int) -> None:
    """With the errors of a real tape (half of what is allowed) on every figure, the wrong wall is still named."""
    rng = random.Random(seed)
    widths, turns = PLANS[name]
    taped = [w * FOOT + rng.gauss(0, 0.25 * INCH / 4) for w in widths]
    turned = [t + rng.gauss(0, 0.05) for t in turns]
    taped[k] += by_ft * FOOT
    result = close_ring(taped, turned)
    assert not result.closes
    assert ("width", k) in {(s.kind, s.index) for s in result.suspects}


def test_suspects_are_exactly_those_that_another_search_finds() -> None:
    """Brute force, from the definition: free one figure at a time in a general minimizer and judge the misfit."""
    widths, turns = PLANS["ell"]
    taped = feet(widths)
    taped[1] += 1.5 * FOOT
    n = len(widths)
    sd = np.array([0.25 * INCH] * n + [math.radians(1)] * n) / TWO_SIDED_95
    observed = np.array([*taped, *np.radians(turns)])
    found = set()
    for k in range(2 * n):
        weight = np.ones(2 * n)
        weight[k] = 0.0

        def gap(v: np.ndarray) -> list[float]:
            x = observed + v * sd
            heading = np.concatenate([[0], np.cumsum(x[n:])[:-1]])
            end = (x[:n] * np.exp(1j * heading)).sum()
            return [float(x[n:].sum() - 2 * math.pi), float(end.real), float(end.imag)]

        best = scipy.optimize.minimize(
            lambda v, w=weight: float((w * v) @ v), np.zeros(2 * n), method="SLSQP",
            jac=lambda v, w=weight: 2 * w * v, constraints={"type": "eq", "fun": gap},
            options={"ftol": 1e-12, "maxiter": 1000},
        )  # fmt: skip
        misfit = float((weight * best.x) @ best.x)
        if best.success and misfit <= scipy.stats.chi2.ppf(0.95, 2):
            found.add(("width" if k < n else "turn", k % n))
    ours = {(s.kind, s.index) for s in close_ring(taped, turns, rule_of_thumb=False).suspects}
    assert ours == found


def test_one_more_measurement_tells_the_suspects_apart() -> None:
    """In a box the two long walls are alike to the walk; a diagonal is 9 in longer under one than the other."""
    result = close_ring(feet([41, 35, 40, 35]), [90] * 4)
    assert {(s.kind, s.index) for s in result.suspects} == {("width", 0), ("width", 2)}
    measure = result.measure
    assert measure is not None and (measure.start, measure.end) == (0, 2) and not measure.retape
    by_hand = {0: math.hypot(40, 35), 2: math.hypot(41, 35)}
    for suspect, meters in zip(result.suspects, measure.meters, strict=True):
        assert meters == pytest.approx(by_hand[suspect.index] * FOOT, abs=1e-6)


def test_the_measurement_is_the_best_of_all_pairs() -> None:
    """No other pair of corners splits the suspects into more groups, or wider ones, among the diagonals."""
    widths, turns = PLANS["tee"]
    taped = feet(widths)
    taped[4] += 1 * FOOT
    result = close_ring(taped, turns)
    assert result.measure is not None and len(result.suspects) > 2
    n = len(widths)
    plans = []
    for s in result.suspects:
        w, t = list(taped), list(turns)
        (w if s.kind == "width" else t)[s.index] = s.corrected
        plans.append(corners(w, t))

    def split(a: int, b: int) -> tuple[int, float]:
        reads = sorted(math.dist(p[a], p[b]) for p in plans)
        gaps = [y - x for x, y in itertools.pairwise(reads) if y - x > 0.5 * INCH]
        return len(gaps) + 1, min(gaps, default=0.0)

    best = max(split(a, b) for a in range(n) for b in range(a + 2, n) if (a, b) != (0, n - 1))
    got = split(result.measure.start, result.measure.end)
    assert got[0] == best[0] and got[1] == pytest.approx(best[1], abs=1e-3)


def test_two_blunders_name_nobody() -> None:
    result = close_ring(feet([42, 38, 40, 35]), [90] * 4)
    assert not result.closes and result.suspects == () and result.measure is None


def test_a_big_ring_is_tested_in_reasonable_time() -> None:
    n = 120
    result = close_ring([1.0] * n, [3.0] * (n - 1) + [33.0])
    assert not result.closes
    assert ("turn", n - 1) in {(s.kind, s.index) for s in result.suspects}
