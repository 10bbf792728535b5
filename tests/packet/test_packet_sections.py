"""Sections of units in a thick wall: drawn to the scale they name, from the plan's pieces and layers alone."""

from __future__ import annotations

import copy
import io
import re
from xml.etree import ElementTree

import pypdf
import pytest

from conftest import doc_of
from lapwright.packet.elevation import PAPER, PRINT_FONT
from lapwright.packet.pages import contents, set_pages
from lapwright.packet.section import section_drawing, section_groups
from lapwright.packet.section_pages import section_pages
from lapwright.packet.view import View

IN = 0.0254
SVG = "{http://www.w3.org/2000/svg}"


def shapes(text: str) -> dict[str, list[tuple[float, float, float, float]]]:
    """Return the boxes of what is drawn, by its accessible name."""
    out: dict[str, list[tuple[float, float, float, float]]] = {}
    for path in ElementTree.fromstring(text).iter(f"{SVG}path"):
        title = path.find(f"{SVG}title")
        if title is not None and title.text:
            nums = [float(n) for n in re.findall(r"-?[0-9.]+", path.get("d") or "")]
            out.setdefault(title.text, []).append((min(nums[::2]), min(nums[1::2]), max(nums[::2]), max(nums[1::2])))
    return out


@pytest.fixture(scope="module")
def view() -> View:
    return View(doc_of("foam-wall"))


def test_openings_that_are_alike_share_a_section(view: View) -> None:
    groups = section_groups(view)
    assert sorted(row["position"] for row, _ in groups) == ["in", "mid", "old", "out"]
    doc = copy.deepcopy(doc_of("foam-wall"))
    doc["reveals"].append({**doc["reveals"][0], "opening": "copy"})
    assert len(section_groups(View(doc))) == len(groups)


def test_a_section_is_to_the_scale_it_names(view: View) -> None:
    for row, _ in section_groups(view):
        text, width, _ = section_drawing(view, row, PAPER.width, PRINT_FONT, PAPER.text, True)
        assert width == PAPER.width and "Scale 3 in = 1 ft" in text
        found = shapes(text)
        inch = 72 / 4  # points on paper of one inch at 3 in = 1 ft, a quarter of full size
        foam = next(b for name, boxes in found.items() if name.startswith("XPS") for b in boxes)
        assert foam[2] - foam[0] == pytest.approx(2 * inch, abs=0.05)  # 2 in of foam
        siding = next(b for name, boxes in found.items() if name.startswith("Board siding") for b in boxes)
        assert siding[2] - siding[0] == pytest.approx(0.75 * inch, abs=0.05)
        assert foam[0] - siding[2] == pytest.approx(1.5 * inch, abs=0.05)  # the gap of the furring between
        frame = found["unit"][0]
        assert foam[2] - frame[0] == pytest.approx({"in": 0, "old": 0, "mid": 1.75, "out": 3.5}[row["position"]] * inch, abs=0.1)
        lip = found["head flashing"][0]
        assert foam[2] - lip[0] == pytest.approx((4.5 + 0.13 * 0.75) * inch, abs=0.1)  # past siding and drip
        for boxes in found.values():
            for x0, y0, x1, y1 in boxes:
                assert x0 >= -0.01 and x1 <= width + 0.01 and y0 >= -0.01 and y1 > y0 - 0.01


def test_the_page_says_the_sum_and_what_is_left(view: View) -> None:
    drawings: dict[str, str] = {}
    pages = {p["sits"].split(",")[0]: p for p in section_pages(view, drawings)}
    rows = {r[0]: r[1:] for r in pages["out"]["rows"]}
    assert rows["new face out from the barrier"] == ['4-1/4"', '3/4" siding + 1-1/2" furring + 2" foam']
    assert rows["buck, front to back"][0] == '7-3/4"'  # 3-1/2 out, 3/4 of boards, 3-1/2 of studs
    assert rows["opening that the buck leaves"][0].startswith("2' 10-1/2\" x ")
    assert "returns outside of the unit" not in rows
    assert {r[0]: r[1] for r in pages["in"]["rows"]}["returns outside of the unit"] == '4-1/4"'
    assert set(drawings) == {p["drawing"] for p in pages.values()}


def test_the_book_has_the_page_and_others_have_not() -> None:
    data, drawings = contents(View(doc_of("foam-wall")))
    reader = pypdf.PdfReader(io.BytesIO(set_pages(data, drawings)))
    text = " ".join(page.extract_text() for page in reader.pages)
    assert "Units and layers" in text and "Head, from the side" in text and "Where each unit sits" in text
    assert contents(View(doc_of("one-face")))[0]["sections"] == []
