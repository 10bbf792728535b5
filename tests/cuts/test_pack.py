"""The packer keeps the contract: all inside its stock, nothing over another, bounds below drawn."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from shapely import Polygon

from lapwright.cuts import diagram, pack
from lapwright.details.base import Cut
from lapwright.memo import Memo
from lapwright.scope.model import Built, Scope
from loads import L, W, catalog, faults, house, product, rect

ROLL = product("sheet", "roll", width_m=W, length_m=L)


@pytest.mark.parametrize("seed", range(3))
def test_a_house_of_courses_and_strips_lies_on_its_rolls_without_overlap(seed: int) -> None:
    cuts = house(seed)
    assert faults(pack(cuts, catalog(ROLL), Scope()), cuts) == []


def test_a_strip_is_cut_from_the_window_hole_of_a_course() -> None:
    cuts = [
        Cut("c", "sheet", rect(3.0, W, (1.0, 0.3, 2.0, 1.3)), pieces=("c",)),
        Cut("s", "sheet", rect(0.9, 0.3), pieces=("s",)),
    ]
    packing = pack(cuts, catalog(ROLL), Scope())
    assert faults(packing, cuts) == []
    assert packing.bounds[0].drawn_m == pytest.approx(3.0)


def test_a_piece_too_long_or_too_wide_for_the_stock_stops_and_names_itself() -> None:
    cuts = [
        Cut("long", "sheet", rect(23.0, 1.0), pieces=("front/course1",)),
        Cut("wide", "sheet", rect(3.0, 1.6), pieces=("front/course2",)),
    ]
    packing = pack(cuts, catalog(ROLL), Scope())
    assert [(f.code, f.level) for f in packing.findings] == [
        ("cut.too_long", "stop"),
        ("cut.too_wide", "stop"),
    ]
    assert "front/course1" in packing.findings[0].what and "lap" in packing.findings[0].fix
    assert all(c.stock is None for c in packing.cuts)


def test_built_cuts_stay_and_the_opened_roll_is_used_first() -> None:
    old = Cut("a", "sheet", rect(4.0, W), pieces=("a",))
    new = Cut("b", "sheet", rect(5.0, W), pieces=("b",), installed=1)
    row = {
        "id": "a",
        "product": "sheet",
        "flat": [[[0, 0], [4, 0], [4, W], [0, W], [0, 0]]],
        "stock": "sheet/r07",
        "along_m": 0.5,
        "across_m": 0.0,
        "turned_deg": 0,
    }
    unit = {"id": "sheet/r07", "product": "sheet", "length_m": 20.0, "width_m": W}
    packing = pack([old, new], catalog(ROLL), Scope(built=Built(cuts=(row,), stock=(unit,))))
    assert [c.stock for c in packing.cuts] == ["sheet/r07", "sheet/r07"]
    assert packing.cuts[0].along_m == 0.5 and packing.cuts[1].along_m >= 4.5
    assert faults(packing, [old, new]) == []


def test_stock_on_hand_is_used_before_any_is_bought() -> None:
    cuts = [Cut(f"c{n}", "sheet", rect(4.0, W), installed=n) for n in range(6)]
    packing = pack(cuts, catalog(ROLL), Scope(on_hand=(("sheet", 9.0, None, 1),)))
    assert faults(packing, cuts) == []
    assert [u.id for u in packing.stock] == ["sheet/h01", "sheet/r01"]
    assert [u.on_hand for u in packing.stock] == [True, False]


def test_lengths_lose_a_saw_cut_between_pieces() -> None:
    batten = product("batten", "length", width_m=0.089, length_m=3.0)
    cuts = [Cut(f"b{n}", "batten", rect(1.5, 0.089)) for n in range(4)]
    packing = pack(cuts, catalog(batten), Scope())
    assert faults(packing, cuts) == []
    assert packing.bounds[0].stock_used == 4
    cuts = [Cut(f"b{n}", "batten", rect(1.498, 0.089)) for n in range(4)]
    packing = pack(cuts, catalog(batten), Scope())
    assert packing.bounds[0].stock_used == 2 and packing.bounds[0].proven


def test_the_diagram_of_a_roll_holds_every_flat_on_it() -> None:
    cuts = house(5, courses=20, strips=20)
    packing = pack(cuts, catalog(ROLL), Scope())
    drawn = [d.cut for u in packing.stock for d in diagram(packing, u.id)]
    assert sorted(drawn) == sorted(c.id for c in cuts)
    with pytest.raises(KeyError):
        diagram(packing, "no such roll")


def test_four_sheets_of_a_slab_lie_as_short_as_their_widths_allow() -> None:
    film = product("film", "roll", width_m=6.096, length_m=30.48)
    sizes = [(3.8862, 5.1308), (3.5052, 0.762), (3.3528, 6.096), (0.5334, 6.096)]
    cuts = [Cut(f"f{n}", "film", rect(w, h), pieces=(f"f{n}",), installed=n) for n, (w, h) in enumerate(sizes)]
    packing = pack(cuts, catalog(film), Scope())
    assert faults(packing, cuts) == []
    # by hand: the two full widths one after another, and the long strip beside the third
    assert packing.bounds[0].drawn_m == pytest.approx(3.3528 + 0.5334 + 3.8862)


def test_kept_packings_are_those_made_anew_over_many_edits() -> None:
    rng = random.Random(7)
    cuts = house(3, courses=10, strips=12) + house(4, courses=6, strips=8, name="mat")
    known = catalog(ROLL, product("mat", "roll", width_m=W, length_m=15.0))
    memo = Memo()
    for _ in range(12):
        n = rng.randrange(len(cuts))
        old = cuts[n]
        x1, y1 = old.flat.bounds[2:]
        cuts[n] = replace(old, flat=rect(round(x1 * rng.uniform(0.8, 1.0), 4), y1), installed=rng.randrange(40))
        kept, anew = pack(cuts, known, Scope(), memo=memo), pack(cuts, known, Scope())
        assert kept.cuts == anew.cuts and kept.stock == anew.stock and kept.bounds == anew.bounds
    assert memo.hits > 0


def test_sloped_strips_make_pairs_and_are_laid_once_on_a_rest_at_hand() -> None:
    # two right-angled strips that lie slope to slope, and rests that they fit on
    tip = Polygon([(0, 0), (2.6, 0), (0.4, 0.4), (0, 0.4)])
    cuts = [Cut(f"t{n}", "sheet", tip, pieces=(f"t{n}",), installed=n) for n in range(4)]
    packing = pack(cuts, catalog(ROLL), Scope(on_hand=(("sheet", 3.4, None, 2),)))
    assert faults(packing, cuts) == []
    assert {c.stock for c in packing.cuts} == {"sheet/h01"}
    whole = pack(cuts, catalog(ROLL), Scope())
    assert faults(whole, cuts) == []
    # by hand: a pair is 3 m long and 0.4 m wide (the slope is sliced into ten steps), the pairs side by side
    assert whole.bounds[0].drawn_m <= 3.0 + 2.2 / 10 + 1e-3
