"""The pages of the pencil test: every gap has its number on the drawing and its row in the table; color says nothing."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
from packet_doc import make

from lapwright.packet.canvas import text_width
from lapwright.packet.closure_pages import MOST_GAPS, WIDTH, closure_drawings, closure_pages
from lapwright.packet.view import View
from lapwright.pencil import LAYERS
from lapwright.plan.document import document
from lapwright.plan.load import open_plan
from lapwright.plan.pencil_rows import pencil

EXAMPLES = Path(__file__).parents[2] / "examples"
SVG = "{http://www.w3.org/2000/svg}"


@lru_cache(maxsize=8)
def spoiled(name: str, opened: int) -> dict[str, Any]:
    """Return the document of an example in which every so-manieth tie is gone (0: none)."""
    plan = open_plan(EXAMPLES / name)
    ties = [t for n, t in enumerate(plan.layout.ties) if not opened or n % opened]
    plan._done["layout"] = replace(plan.layout, ties=tuple(ties))
    return {
        **document(plan, ("job", "surfaces")),
        "pieces": [],
        "cuts": [],
        "stock": [],
        "laps": [],
        "pencil": pencil(plan),
    }


@pytest.mark.parametrize(("name", "opened"), [("one-face", 3), ("metric", 4), ("metric", 1), ("demo", 7)])
def test_every_gap_has_its_number_and_its_row(name: str, opened: int) -> None:
    doc = spoiled(name, opened)
    drawings: dict[str, str] = {}
    pages = closure_pages(View(doc), drawings)
    assert [p["title"].lower() for p in pages] == list(LAYERS)
    for page, layer in zip(pages, LAYERS, strict=True):
        gaps = [j for j in doc["pencil"]["joints"] if j[layer] == "gap"]
        assert gaps or layer in ("vapor", "heat")  # few joints ask for these
        assert [r[1] for r in page["gaps"]] == [j["id"] for j in gaps[:MOST_GAPS]]
        assert page["more"] == max(0, len(gaps) - MOST_GAPS)
        assert all(len(r[3]) > 30 for r in page["gaps"])
        root = ET.fromstring(drawings[page["drawing"]])
        white = [t.text for t in root.iter(f"{SVG}text") if t.get("fill") == "#fff"]
        legend = white.pop()
        assert legend == "1"
        assert sorted(int(t or 0) for t in white) == list(range(1, len(gaps) + 1))


def test_the_edge_of_a_new_floor_has_its_number_in_the_section() -> None:
    doc = spoiled("demo", 1)  # every tie is gone
    drawings: dict[str, str] = {}
    pages = closure_pages(View(doc), drawings)
    for page in pages[1:]:
        assert "basement/floor/edge" in [j["id"] for j in doc["pencil"]["joints"] if j[page["title"].lower()] == "gap"]
        root = ET.fromstring(drawings[page["drawing"]])
        assert any("edge of the floor: 1 " in (t.text or "") for t in root.iter(f"{SVG}text"))


@pytest.mark.parametrize("name", ["one-face", "metric", "demo"])
def test_words_stay_on_the_paper_and_are_large_enough(name: str) -> None:
    for _, text in closure_drawings(View(spoiled(name, 0))):
        root = ET.fromstring(text)
        for t in root.iter(f"{SVG}text"):
            size, x, wide = float(t.get("font-size", 0)), float(t.get("x", 0)), text_width(t.text or "", 8.0)
            left = x if t.get("text-anchor") == "start" else x - wide / 2
            assert size >= 8.0 or (t.text or "").isdigit()
            assert left >= -1 and left + wide * 0.92 <= WIDTH + 1, t.text
            assert 0 <= float(t.get("y", 0)) <= float(root.get("height", 0))


def test_states_differ_by_dashes_and_never_by_color() -> None:
    (_, water), (_, air), *_ = closure_drawings(View(spoiled("demo", 7)))
    for text in (water, air):
        for color in re.findall(r'"(#[0-9a-f]{3,6})"', text):
            full = color[1:] if len(color) == 7 else "".join(c * 2 for c in color[1:])
            parts = [int(full[i : i + 2], 16) for i in (0, 2, 4)]
            assert max(parts) - min(parts) <= 16, color
        dashes = {p.get("stroke-dasharray") for p in ET.fromstring(text).iter(f"{SVG}path")}
        assert len(dashes) >= 4  # full, not seen, not given, gap


def test_the_same_plan_gives_the_same_drawing() -> None:
    doc = spoiled("metric", 4)
    assert closure_drawings(View(doc)) == closure_drawings(View(doc))


def test_a_document_without_a_pencil_test_has_no_such_page() -> None:
    drawings: dict[str, str] = {}
    assert closure_pages(View(make("metric", faces=1)), drawings) == []
    assert drawings == {}
