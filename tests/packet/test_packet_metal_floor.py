"""The pages on bent metal and on floors say what the document says."""

from __future__ import annotations

import io
import math
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree

import ezdxf
import pytest

from conftest import doc_of
from lapwright.packet.dxf import profile_dxf
from lapwright.packet.floors import floor_pages
from lapwright.packet.metal import metal_page, order_words, profile_drawing
from lapwright.packet.view import View


@pytest.fixture(scope="module")
def demo() -> View:
    return View(doc_of("demo"))


def test_every_profile_has_a_drawing_its_flat_and_its_bends(demo: View) -> None:
    drawings: dict[str, str] = {}
    page = metal_page(demo, drawings)
    assert page is not None
    rows: list[dict[str, Any]] = demo.doc["metal"]["profiles"]
    assert len(page["profiles"]) == len(rows) == len(drawings) >= 4
    for row, said in zip(rows, page["profiles"], strict=True):
        root = ElementTree.fromstring(drawings[said["drawing"]])
        words = " ".join(t.text or "" for t in root.iter("{http://www.w3.org/2000/svg}text"))
        assert demo.length(row["developed_m"]) in words
        assert all(demo.length(v) in words for v in row["legs_m"])
        assert len(order_words(demo, row)) == len(row["turns_deg"])
    assert profile_drawing(demo, rows[0]) == profile_drawing(demo, rows[0])


def test_the_dxf_holds_blank_bends_and_end_view_at_full_size(demo: View) -> None:
    for row in demo.doc["metal"]["profiles"]:
        text = profile_dxf(demo, row)
        assert text == profile_dxf(demo, row)
        doc = ezdxf.read(io.StringIO(text))
        audit = doc.audit()
        assert not audit.errors and not audit.fixes
        space = doc.modelspace()
        (flat,) = space.query('LWPOLYLINE[layer=="flat"]')
        corners = [(x * 0.0254, y * 0.0254) for x, y, *_ in flat]
        width, length = max(y for _, y in corners), max(x for x, _ in corners)
        assert flat.closed and width == pytest.approx(row["developed_m"], abs=1e-6)
        cut = [c for c in demo.doc["cuts"] if c["id"] in row["cuts"]]
        assert length == pytest.approx(row["longest_m"], abs=1e-6)
        assert not cut or length == pytest.approx(max(x for c in cut for x, _ in c["flat"][0]), abs=1e-6)
        bends = [line.dxf.start.y * 0.0254 for line in space.query('LINE[layer=="bends"]')]
        assert bends == pytest.approx(row["bend_lines_m"], abs=1e-6)
        (end,) = space.query('LWPOLYLINE[layer=="profile"]')
        points = [(x * 0.0254, y * 0.0254) for x, y, *_ in end]
        assert not end.closed and max(y for _, y in points) < 0
        legs = [math.dist(a, b) for a, b in pairwise(points)]
        assert sorted(legs)[-len(row["legs_m"]) :] == pytest.approx(sorted(row["legs_m"]), abs=3e-4)


def test_the_coil_page_adds_up(demo: View) -> None:
    coil = demo.doc["metal"]["coil"]
    assert sum(b["length_m"] * b["count"] for b in coil["blanks"]) == pytest.approx(coil["drawn_m"], rel=1e-3)
    assert coil["drawn_m"] <= 1.05 * coil["bound_m"]
    for blank in coil["blanks"]:
        assert sum(s["width_m"] for s in blank["strips"]) <= 24 * 0.0254 + 1e-3


def test_the_floor_page_adds_up(demo: View) -> None:
    (page,) = floor_pages(demo)
    terms = demo.doc["slabs"][0]["headroom"]
    added = terms["gravel"] + terms["foam"] + terms["slab"] + terms["finish"]
    assert terms["now"] + terms["dig"] - added == pytest.approx(terms["after"], abs=2e-4)
    assert [r[2] for r in page["budget"]] == [demo.length(terms[k]) for k in ("now", "dig", "gravel", "foam", "slab", "finish", "after")]
    assert any(f["chosen"] for f in page["foams"]) and any(f["ruled"] for f in page["foams"])
