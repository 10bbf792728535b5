"""SVG files: sound XML, self-contained, true to scale, and no word on top of another.

Words are measured with the real glyphs of a sans-serif (fontTools), not with the packet's own estimate.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from importlib import resources
from pathlib import Path
from xml.etree import ElementTree

import packet_doc
import pytest
from fontTools.ttLib import TTFont
from packet_doc import Written
from shapely import LineString, Point, Polygon, box
from shapely.affinity import rotate

from lapwright.packet.elevation import PAPER, elevation
from lapwright.packet.sheets import sheets
from lapwright.packet.view import View

NS = "{http://www.w3.org/2000/svg}"


@cache
def glyphs(bold: bool) -> tuple[dict[int, str], dict[str, float]]:
    file = f"SourceSansPro-{'Bold' if bold else 'Regular'}.ttf"
    with resources.as_file(resources.files("font_source_sans_pro") / "files" / file) as path:
        font = TTFont(path)
    upem = font["head"].unitsPerEm
    return font.getBestCmap(), {name: w[0] / upem for name, w in font["hmtx"].metrics.items()}


def words(root: ElementTree.Element) -> Iterator[tuple[str, Polygon, float]]:
    """Yield each word that is set, the room that its figures and capitals take, and its size."""
    for el in root.iter(f"{NS}text"):
        text, size, bold = el.text or "", float(el.get("font-size", "0")), el.get("font-weight") == "700"
        cmap, widths = glyphs(bold)
        wide = sum(widths[cmap.get(ord(c), ".notdef")] for c in text) * size
        x, y = float(el.get("x", "0")), float(el.get("y", "0"))
        left = x - {"middle": wide / 2, "end": wide, "start": 0}[el.get("text-anchor", "start")]
        shape = box(left, y - 0.66 * size, left + wide, y)
        if el.get("transform"):
            shape = rotate(shape, -90, origin=(x, y))
        yield text, shape, size


def drawings(written: Written) -> list[Path]:
    return sorted(written.out.rglob("*.svg"))


def test_svg_files_are_self_contained_and_named(written: Written) -> None:
    for file in drawings(written):
        text = file.read_text("utf-8")
        root = ElementTree.fromstring(text)
        assert root.tag == f"{NS}svg"
        assert root.get("viewBox") and root.find(f"{NS}title") is not None
        assert not re.search(r"href|url\(|@import|@font-face|<image|<script", text)
        assert (root.get("font-family") or "").endswith("sans-serif")


def test_words_are_big_enough_on_a_phone(written: Written) -> None:
    """At 390 points of width no word of a surface is under 7.5 points, and heights and marks not under 9."""
    for file in drawings(written):
        root = ElementTree.fromstring(file.read_text("utf-8"))
        scale = 390 / float((root.get("viewBox") or "").split()[2])
        for text, _, size in words(root):
            assert size * scale >= (9 if re.fullmatch(r"[\d'\" /+-]+", text) else 7.5), (file.name, text)


def overlaps(root: ElementTree.Element) -> list[tuple[str, str]]:
    set_words = list(words(root))
    out = []
    for i, (a, one, size) in enumerate(set_words):
        for b, two, _ in set_words[i + 1 :]:
            if one.intersection(two).area > 0.02 * size * size:
                out.append((a, b))
    return out


def test_no_word_lies_on_another(written: Written) -> None:
    bad = {
        f.name: found for f in drawings(written) if (found := overlaps(ElementTree.fromstring(f.read_text("utf-8"))))
    }
    assert not bad


def test_no_word_on_paper_lies_on_another(written: Written) -> None:
    view = View(written.doc)
    bad = {
        s.name: found for s in sheets(view) if (found := overlaps(ElementTree.fromstring(elevation(view, s, PAPER))))
    }
    assert not bad


def test_words_stay_on_the_drawing(written: Written) -> None:
    for file in drawings(written):
        root = ElementTree.fromstring(file.read_text("utf-8"))
        _, _, wide, high = map(float, (root.get("viewBox") or "").split())
        for text, shape, size in words(root):
            x0, y0, x1, y1 = shape.bounds
            assert x0 > -0.1 * size and y0 > -0.1 * size and x1 < wide + 0.1 * size and y1 < high + 0.1 * size, (
                file.name,
                text,
            )


def named_paths(root: ElementTree.Element) -> Iterator[tuple[str, Polygon]]:
    for el in root.iter(f"{NS}path"):
        title = el.find(f"{NS}title")
        if title is not None and title.text:
            rings = [
                [tuple(map(float, p.split())) for p in ring.rstrip("Z").split("L")]
                for ring in (el.get("d") or "").split("M")[1:]
            ]
            yield title.text, Polygon(rings[0], rings[1:])


@pytest.mark.parametrize("layer", ["barrier", "mat"])
def test_each_piece_is_drawn_in_its_place_at_one_scale(written: Written, layer: str) -> None:
    root = ElementTree.fromstring((written.out / "surfaces" / f"front-{layer}.svg").read_text("utf-8"))
    drawn: dict[str, list[Polygon]] = {}
    for title, shape in named_paths(root):
        drawn.setdefault(title.split(":")[0], []).append(shape)
    view = View(written.doc)
    mine = [p for p in written.doc["pieces"] if p["surface"] == "front" and p["layer"] == layer]
    assert len(mine) > 5
    biggest = max(mine, key=lambda p: Polygon(p["polygon"][0]).area)
    scale2 = drawn[view.marks[biggest["id"]]][0].area / Polygon(*_rings(biggest)).area
    for piece in mine:
        (shape,) = drawn[view.marks[piece["id"]]]
        want = Polygon(*_rings(piece))
        assert shape.area == pytest.approx(want.area * scale2, rel=2e-3, abs=0.5)
        assert shape.bounds[0] - drawn[view.marks[biggest["id"]]][0].bounds[0] == pytest.approx(
            (want.bounds[0] - Polygon(*_rings(biggest)).bounds[0]) * scale2**0.5, abs=0.05
        )


def _rings(piece: dict[str, object]) -> tuple[object, object]:
    rings = piece["polygon"]
    return rings[0], rings[1:]  # type: ignore[index]


def test_an_edge_beneath_a_lap_is_dashed_and_an_edge_on_top_is_not() -> None:
    """The upper edge of course 1 hides under course 2; the lower edge of course 2 is in sight."""
    doc = packet_doc.make(faces=1)
    view = View(doc)
    sheet = next(s for s in sheets(view) if s.key == "barrier")
    root = ElementTree.fromstring(elevation(view, sheet, PAPER))
    plain, dashed = [], []
    for el in root.iter(f"{NS}path"):
        if el.get("fill") != "none" or el.get("stroke") != "#1b1e21":
            continue
        for line in (el.get("d") or "").replace("Z", "").split("M")[1:]:
            points = [tuple(map(float, p.split())) for p in line.split("L")]
            (dashed if el.get("stroke-dasharray") else plain).append(LineString(points))
    named = dict(named_paths(root))
    one = next(s for t, s in named.items() if t.startswith("B1.1:"))
    two = next(s for t, s in named.items() if t.startswith("B2.1:"))
    hidden = Point(one.bounds[0] + 20, one.bounds[1])
    shown = Point(two.bounds[0] + 20, two.bounds[3])
    assert any(line.distance(hidden) < 0.1 for line in dashed)
    assert not any(line.distance(hidden) < 0.1 for line in plain)
    assert any(line.distance(shown) < 0.1 for line in plain)
    assert not any(line.distance(shown) < 0.1 for line in dashed)
