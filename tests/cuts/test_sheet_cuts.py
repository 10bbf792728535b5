"""Pieces on sheets: none over another, all on their sheet; sheets sawn apart at random go back on as many."""

from __future__ import annotations

import os
import random

import pytest

from lapwright.cuts import pack
from lapwright.details.base import Cut
from lapwright.scope.model import Scope
from loads import catalog, faults, product, rect

SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
L, W = 2.4384, 1.2192
BOARD = product("board", "sheet", width_m=W, length_m=L)


def sawn(rng: random.Random, count: int) -> list[tuple[float, float]]:
    """The pieces of whole sheets after straight cuts, in whole millimetres."""
    out = []
    for _ in range(count):
        pieces = [(2438, 1219)]
        for _ in range(rng.randint(2, 6)):
            w, h = pieces.pop(pieces.index(max(pieces, key=lambda p: p[0] * p[1])))
            if rng.random() < w / (w + h):
                at = rng.randint(w // 5, w - w // 5)
                pieces += [(at, h), (w - at, h)]
            else:
                at = rng.randint(h // 5, h - h // 5)
                pieces += [(w, at), (w, h - at)]
        out += pieces
    return [(w / 1000, h / 1000) for w, h in out]


@pytest.mark.parametrize("seed", range(12 * SOAK))
def test_sawn_sheets_go_back_on_about_as_many(seed: int) -> None:
    rng = random.Random(seed)
    count = rng.randint(2, 8)
    cuts = []
    for n, (w, h) in enumerate(sawn(rng, count)):
        flat = rect(w, h)
        if n % 4 == 0 and min(w, h) > 0.4:  # a notch: room for a smaller one, or waste
            flat = rect(w, h, (w / 3, 0, 2 * w / 3, h / 2))
        cuts.append(Cut(f"c{n:02d}", "board", flat, pieces=(f"c{n:02d}",), installed=n))
    done = pack(cuts, catalog(BOARD), Scope())
    assert faults(done, cuts) == []
    assert count - 1 <= len(done.stock) <= count + 1
    assert done.bounds[0].packing_bound_stock <= min(count, len(done.stock))
