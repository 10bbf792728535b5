"""The one-dimensional kernel against published optima, sizes with a known answer, and plain enumeration."""

from __future__ import annotations

import csv
import os
import random
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.cuts.pack1d import best_fit_decreasing, dual_bound, l2_bound, pack_bins

SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
SETS = Path(__file__).parent.parent / "outside" / "data" / "cutting" / "falkenauer.csv"


def published() -> list[tuple[str, list[int], int, int]]:
    lines = [line for line in SETS.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return [
        (
            row["instance"],
            [int(s) for s in row["sizes"].split()],
            int(row["capacity"]),
            int(row["best_known"]),
        )
        for row in csv.DictReader(lines)
    ]


def holds(bins: tuple[tuple[int, ...], ...], sizes: list[int], capacity: int) -> bool:
    """Every item once, no bin over its capacity."""
    every = sorted(i for b in bins for i in b) == list(range(len(sizes)))
    return every and all(sum(sizes[i] for i in b) <= capacity for b in bins)


@pytest.mark.parametrize(
    ("name", "sizes", "capacity", "optimum"), published(), ids=lambda v: v if isinstance(v, str) else ""
)
def test_the_published_sets_are_packed_in_the_proven_optimum(
    name: str, sizes: list[int], capacity: int, optimum: int
) -> None:
    result = pack_bins(sizes, capacity)
    assert holds(result.bins, sizes, capacity)
    assert len(result.bins) == optimum
    assert result.bound == optimum


@pytest.mark.parametrize("seed", range(3 * SOAK))
@pytest.mark.parametrize("items", [60, 501])
def test_triplets_made_to_fill_every_bin_do_so_again(items: int, seed: int) -> None:
    rng = random.Random(seed)
    sizes: list[int] = []
    for _ in range(items // 3):  # the recipe of the published triplets
        a = rng.randint(380, 490)
        b = rng.randint(250, (1000 - a) // 2)
        sizes += [a, b, 1000 - a - b]
    result = pack_bins(sizes, 1000)
    assert holds(result.bins, sizes, 1000)
    assert len(result.bins) == items // 3


def fewest(sizes: list[int], capacity: int) -> int:
    """Fewest bins by trying every way to put each item, by definition (small cases only)."""
    best = len(sizes)

    def go(k: int, rooms: list[int]) -> None:
        nonlocal best
        if len(rooms) >= best:
            return
        if k == len(sizes):
            best = len(rooms)
            return
        for b in range(len(rooms)):
            if rooms[b] >= sizes[k]:
                rooms[b] -= sizes[k]
                go(k + 1, rooms)
                rooms[b] += sizes[k]
        go(k + 1, [*rooms, capacity - sizes[k]])

    go(0, [])
    return best


@settings(max_examples=80 * SOAK, deadline=None)
@given(st.lists(st.integers(1, 30), min_size=1, max_size=8))
def test_small_cases_need_as_many_bins_as_plain_enumeration_finds(sizes: list[int]) -> None:
    result = pack_bins(sizes, 30)
    assert holds(result.bins, sizes, 30)
    optimum = fewest(sizes, 30)
    assert result.bound <= optimum == len(result.bins)
    assert l2_bound(sizes, 30) <= optimum and dual_bound(sizes, 30) <= optimum


@settings(max_examples=25 * SOAK, deadline=None)
@given(st.lists(st.integers(8000, 120000), min_size=1, max_size=40))
def test_lengths_of_a_roll_never_take_more_rolls_than_best_fit(sizes: list[int]) -> None:
    result = pack_bins(sizes, 228600)
    assert holds(result.bins, sizes, 228600)
    assert result.bound <= len(result.bins) <= len(best_fit_decreasing(sizes, 228600))


def test_items_that_fit_three_to_a_bin_are_seen_to_need_a_third_of_their_number() -> None:
    sizes = [260 + k for k in range(30)]
    assert dual_bound(sizes, 1000) == 10
    assert len(pack_bins(sizes, 1000).bins) == 10


def test_a_size_larger_than_the_bin_is_refused_by_number() -> None:
    with pytest.raises(ValueError, match=r"size 1 is 12, not in 1\.\.10"):
        pack_bins([3, 12], 10)
