"""Edges to mind: every weak stretch of the document is on the page of its surface, told without color."""

from __future__ import annotations

import re
from typing import Any

import pytest
from packet_doc import make

from lapwright.packet.edge_pages import DASHES, LEAST_M, LETTERS, edge_drawing, edge_pages, weak_edges
from lapwright.packet.elevation import PAPER
from lapwright.packet.view import View
from lapwright.packet.words import findings


def _edge(piece: str, segment: list[list[float]], state: str, drains: float, **more: Any) -> dict[str, Any]:
    length = abs(segment[1][0] - segment[0][0]) + abs(segment[1][1] - segment[0][1])
    row = {"piece": piece, "surface": "", "segment": segment, "role": "entry", "state": state, "length_m": length}
    return {**row, "drains_m2": drains, "by": "", "out": "", "trapped": "", **more}


@pytest.fixture
def doc() -> dict[str, Any]:
    made: dict[str, Any] = make()
    piece = made["pieces"][0]
    surface, name = piece["surface"], piece["id"]
    states = ("open", "relies_on_glue", "not_seen", "shingled")
    made["edges"] = [
        _edge(name, [[0.1, 0.1 * n], [0.6, 0.1 * n]], s, 1.0 + n, surface=surface) for n, s in enumerate(states)
    ]
    made["edges"].append(_edge(name, [[0.7, 0.1], [0.7 + LEAST_M / 2, 0.1]], "open", 9.0, surface=surface))
    return made


def test_weak_edges_are_gathered_by_place_and_state_and_shingled_ones_left_out(doc: dict[str, Any]) -> None:
    surface = doc["pieces"][0]["surface"]
    found = weak_edges(View(doc), surface)
    assert [(w.mark, w.state) for w in found] == [("1o", "open"), ("2g", "relies_on_glue"), ("3n", "not_seen")]
    assert [w.length_m for w in found] == pytest.approx([0.5, 0.5, 0.5])
    assert [w.drains_m2 for w in found] == [1.0, 2.0, 3.0]


def test_states_differ_on_the_drawing_by_dash_letter_and_width(doc: dict[str, Any]) -> None:
    surface = doc["pieces"][0]["surface"]
    svg = edge_drawing(View(doc), surface, PAPER)
    assert len(set(DASHES.values())) == len(set(LETTERS.values())) == 3
    for mark in ("1o", "2g", "3n"):
        assert f">{mark}</text>" in svg
    for dash in filter(None, DASHES.values()):
        assert svg.count(f'stroke-dasharray="{dash}"') == 2  # the edge, and its sample in the legend
    colors = set(re.findall(r'stroke="(#[0-9a-f]{6})"', svg))
    assert all(len({c[1:3], c[3:5], c[5:7]}) <= 3 and max(_spread(c) for c in colors) < 20 for c in colors)


def _spread(color: str) -> int:
    parts = [int(color[i : i + 2], 16) for i in (1, 3, 5)]
    return max(parts) - min(parts)


def test_a_page_only_where_something_is_to_be_minded(doc: dict[str, Any]) -> None:
    surface = doc["pieces"][0]["surface"]
    drawings: dict[str, str] = {}
    assert [p["surface"] for p in edge_pages(View(doc), drawings, PAPER)] == [surface]
    assert list(drawings) == [f"{surface}-edges.svg"]
    doc["edges"] = [{**e, "state": "shingled"} for e in doc["edges"]]
    doc["ties"] = []
    assert edge_pages(View(doc), {}, PAPER) == []
    tie = {"id": "t", "sides": [f"{surface}/main", "foundation"], "surface": surface, "line": [[0, 0], [1, 0]]}
    doc["ties"] = [{**tie, "length_m": 1.0, "water": "tied", "air": "open", "vapor": "none", "heat": "none", "by": []}]
    (page,) = edge_pages(View(doc), {}, PAPER)
    assert page["drawing"] == ""
    assert page["ties"][0][:2] == [f"{surface}/main to foundation", "air"]


def test_where_a_drop_comes_out_or_stays_is_said(doc: dict[str, Any]) -> None:
    view = View(doc)
    name = doc["pieces"][0]["id"]
    doc["edges"][0]["out"] = name
    doc["edges"][1]["trapped"] = name
    rows = edge_pages(view, {}, PAPER)[0]["rows"]
    assert rows[0][-1] == f"comes out at {view.marks[name]}"
    assert rows[1][-1] == f"stays behind {view.marks[name]}"


def test_accepted_warnings_stand_apart_with_their_reason() -> None:
    note: dict[str, Any] = {"code": "a.b", "level": "note", "source": "", "where": {"file": "house.yaml", "line": 3}, "fix": "Do it."}
    rows: list[Any] = [
        {**note, "what": "Accepted: It is so.", "why": "Water. Reason given: probed sound"},
        {**note, "what": "Another thing.", "why": "Because."},
    ]
    groups = findings(rows)
    assert [g["level"] for g in groups] == ["accepted", "note"]
    (item,) = groups[0]["items"]
    assert item["fix"] == "Reason: probed sound"
    assert item["why"] == "Water."
    assert item["at"][0]["what"] == "It is so."
