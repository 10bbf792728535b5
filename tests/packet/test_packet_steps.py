"""Steps stand in an order that can be worked."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import networkx
import packet_doc
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression

from lapwright.packet.canvas import spread
from lapwright.packet.steps import in_work_order, ordered, steps_by_surface
from lapwright.packet.view import View


def step(step_id: str, needs: list[str], pieces: list[str]) -> dict[str, Any]:
    return {"id": step_id, "needs": needs, "pieces": pieces}


def test_tearing_off_comes_before_what_needs_it_and_the_walk_round_comes_last() -> None:
    steps = [
        step("strip", ["tear-off"], ["s"]),
        step("walk", ["course"], []),
        step("course", ["strip", "snap"], ["c"]),
        step("snap", ["tear-off"], []),
        step("tear-off", [], []),
    ]
    got = [s["id"] for s in in_work_order(steps, {"s": 3, "c": 9})]
    assert got == ["tear-off", "strip", "snap", "course", "walk"]


def test_a_ring_of_needs_loses_no_step() -> None:
    steps = [step("a", ["b"], []), step("b", ["a"], []), step("c", [], [])]
    assert [s["id"] for s in in_work_order(steps, {})] == ["c", "a", "b"]


@settings(deadline=None)
@given(st.data())
def test_no_step_stands_before_what_it_needs(data: st.DataObject) -> None:
    count = data.draw(st.integers(1, 12))
    steps = []
    for i in range(count):
        needs = data.draw(st.lists(st.integers(0, count - 1), max_size=3)) if i else []
        # only needs on an earlier number in a shuffled naming: a graph without rings
        steps.append(step(f"s{i}", [f"s{n}" for n in needs if n < i], data.draw(st.sampled_from([[], [f"p{i}"]]))))
    shuffled = data.draw(st.permutations(steps))
    got = [s["id"] for s in in_work_order(shuffled, {f"p{i}": float((i * 7) % 5) for i in range(count)})]
    graph = networkx.DiGraph((n, s["id"]) for s in steps for n in s["needs"])
    graph.add_nodes_from(s["id"] for s in steps)
    assert sorted(got) == sorted(graph.nodes)
    assert all(got.index(a) < got.index(b) for a, b in graph.edges)


def test_each_surface_counts_from_one_and_names_what_comes_before() -> None:
    view = View(packet_doc.make(faces=2))
    groups = steps_by_surface(view)
    assert {s: [r["number"] for r in rows] for s, rows in groups.items()} == {
        s: list(range(1, len(rows) + 1)) for s, rows in groups.items()
    }
    assert sum(map(len, groups.values())) == len(ordered(view)) == len(view.rows("steps"))
    assert groups["front"][1]["after"] == "1"


@settings(deadline=None)
@given(
    st.lists(st.floats(0, 100), min_size=1, max_size=15).map(sorted),
    st.floats(0.1, 10),
)
def test_spread_labels_are_as_near_to_their_wishes_as_can_be(wanted: list[float], gap: float) -> None:
    """Least squares with a least distance is isotonic regression of the wishes less their places in line."""
    got = spread(wanted, gap, -1e6, 1e6)
    best = isotonic_regression([w - i * gap for i, w in enumerate(wanted)]).x
    assert all(abs(g - (b + i * gap)) < 1e-6 for i, (g, b) in enumerate(zip(got, best, strict=True)))


@settings(deadline=None)
@given(st.lists(st.floats(0, 100), min_size=1, max_size=15).map(sorted))
def test_spread_labels_stay_inside_while_there_is_room(wanted: list[float]) -> None:
    got = spread(wanted, 6.0, 0.0, 100.0)
    assert all(b - a > 6.0 - 1e-9 for a, b in pairwise(got))
    assert got[0] > -1e-9 and got[-1] < 100 + 1e-9
