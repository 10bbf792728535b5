"""Steps stand in an order that can be worked."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import networkx
import packet_doc
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression

from lapwright.packet.alike import gather
from lapwright.packet.canvas import spread
from lapwright.packet.cautions import Cautions, brief
from lapwright.packet.steps import groups, in_work_order, ordered, steps_by_surface
from lapwright.packet.view import View
from lapwright.packet.words import passes


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
    by_surface = steps_by_surface(view)
    assert {s: [r["number"] for r in rows] for s, rows in by_surface.items()} == {
        s: list(range(1, len(rows) + 1)) for s, rows in by_surface.items()
    }
    members = sum(len(r["members"]) for rows in by_surface.values() for r in rows)
    assert members == len(ordered(view)) == len(view.rows("steps"))
    assert by_surface["front"][1]["after"] == "1"


def spelled(parts: Sequence[tuple[str, str]], values: Sequence[tuple[str, str]], name: str) -> str:
    """What one member of a shared text says: letters replaced by its figures, `each` by its name."""
    figures = dict(values)
    return "".join({"letter": figures.get(w, w), "name": name, "": w}[kind] for w, kind in parts)


@pytest.mark.parametrize("units", ["imperial", "metric"])
def test_nothing_that_a_step_or_check_says_is_lost_when_like_ones_stand_together(units: str) -> None:
    doc = packet_doc.make(units, faces=3)
    view = View(doc)
    shared = 0
    for surface, rows in steps_by_surface(view).items():
        own = [s for s in doc["steps"] if s["place"].split("/")[0] == surface]
        said, checked = [], []
        for group, row in zip((g for g in groups(view) if g[0] in own), rows, strict=True):
            shared += len(group) > 1
            for step, member in zip(group, row["members"], strict=True):
                name = step["place"].split("/")[1]
                said.append(spelled(row["action"], member["values"], name))
                marks = {view.marks[p] for p in step["pieces"]}
                assert set(filter(None, member["marks"].split(", "))) == marks
                numbers = {n for n, _ in (*row["care"], *member["care"])}
                assert {words for _, words in Cautions(view).said(numbers)} == {brief(c) for c in step["cautions"]}
            for check in row["checks"]:
                for step, spot in zip(group, check["at"], strict=True):
                    words = spelled(check["measure"], spot["values"], step["place"].split("/")[1])
                    checked.append((words, check["passes"] or spot["passes"], check["hold"], check["count"]))
        assert sorted(said) == sorted(s["action"] for s in own)
        ids = {s["id"] for s in own}
        assert sorted(checked) == sorted(
            (c["measure"], passes(view, c), c["hold"], c["count"]) for c in doc["checks"] if c["step"] in ids
        )
    assert shared > 5


@settings(deadline=None)
@given(st.data())
def test_steps_that_say_the_same_stand_together_only_where_the_order_allows(data: st.DataObject) -> None:
    count = data.draw(st.integers(1, 14))
    after = {
        f"s{i}": {f"s{n}" for n in data.draw(st.sets(st.integers(0, i - 1), max_size=3))} if i else set()
        for i in range(count)
    }
    kind = {i: data.draw(st.sampled_from("abc")) for i in after}
    steps = [{"id": i} for i in after]
    got = gather(steps, after, lambda s: kind[s["id"]])
    assert sorted(s["id"] for g in got for s in g) == sorted(after)
    assert all(len({kind[s["id"]] for s in g}) == 1 for g in got)
    place = {s["id"]: (n, m) for n, g in enumerate(got) for m, s in enumerate(g)}
    assert all(place[need] < place[i] for i, needs in after.items() for need in needs)


def test_like_steps_share_a_line_and_those_with_other_work_between_do_not() -> None:
    after = {"w1": set(), "w2": set(), "course": {"w1"}, "w3": {"course"}}
    got = gather([{"id": i} for i in after], after, lambda s: s["id"][0])
    assert [[s["id"] for s in g] for g in got] == [["w1", "w2"], ["course"], ["w3"]]


def test_pieces_that_lie_over_each_other_keep_their_order_in_time() -> None:
    """Two like strips with a third thing between them in time, over the one and under the other, stay apart."""
    doc = packet_doc.make(faces=1)
    place = {
        "surface": "front",
        "detail": "d",
        "people": 1,
        "hours": 1.0,
        "wait_after_h": 0,
        "cautions": [],
        "limits": {},
    }
    base = next(p for p in doc["pieces"] if p["layer"] == "strip")
    doc["pieces"] = [{**base, "id": f"p{i}", "installed": i, "cut": None} for i in range(3)]
    doc["steps"] = [
        {
            **place,
            "id": f"s{i}",
            "place": f"front/w{i + 1}",
            "action": f"{what} w{i + 1}.",
            "needs": [],
            "pieces": [f"p{i}"],
        }
        for i, what in enumerate(("Strip at", "Course over", "Strip at"))
    ]
    lap = {
        "surface": "front",
        "polygon": base["polygon"],
        "kind": "course",
        "asked_m": 0,
        "got_m": 0,
        "held": "adhered",
    }
    doc["laps"] = [{**lap, "id": "a", "over": "p1", "under": "p0"}, {**lap, "id": "b", "over": "p2", "under": "p1"}]
    doc["checks"] = []
    assert [[s["id"] for s in g] for g in groups(View(doc))] == [["s0"], ["s1"], ["s2"]]
    doc["laps"] = []
    assert [[s["id"] for s in g] for g in groups(View(doc))] == [["s0", "s2"], ["s1"]]


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
