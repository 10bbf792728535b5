"""The knife sequence, followed word by word by a blind cutter, yields the pieces and nothing is cut through."""

from __future__ import annotations

import os
import re
from typing import Any

import packet_doc
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, box
from shapely.affinity import rotate, translate

from lapwright.lengths import parse_length
from lapwright.packet.rolls import KnifeCut, knife_sequence
from lapwright.packet.view import View

Box = tuple[float, float, float, float]
IN = 0.0254
NEAR = 0.0254 / 32 + 1e-6  # the tape is read to a sixteenth


def metres(text: str) -> float:
    return parse_length(text.rstrip("+-")).m


def lying(doc: dict[str, Any], stock: str) -> dict[str, Polygon]:
    out = {}
    for cut in doc["cuts"]:
        if cut["stock"] == stock:
            flat = rotate(Polygon(cut["flat"][0], cut["flat"][1:]), cut["turned_deg"], origin=(0, 0))
            x0, y0, *_ = flat.bounds
            out[cut["id"]] = translate(flat, cut["along_m"] - x0, cut["across_m"] - y0)
    return out


def follow(lines: list[KnifeCut], block: Box, flats: dict[str, Polygon]) -> dict[str, Box]:
    """Cut a block by the words alone; return the block that each piece was freed in."""
    free: dict[str, Box] = {}
    last: dict[int, float] = {}
    blocks = {0: block}
    for line in lines:
        here = blocks[line.depth]
        rest = line.words
        depth = line.depth
        while m := re.match(r"(Cut across|Rip) at ([^:,(]+?)(?= \(|[:,]|$)(.*)", rest):
            axis = 0 if m[1] == "Cut across" else 1
            at = [here[axis] + metres(m[2])]
            rest = m[3]
            if waste := re.match(r" \(waste before it\)(?:, then at ([^:,]+))?", rest):
                last[depth] = at[0]
                at = [here[axis] + metres(waste[1])] if waste[1] else [here[axis + 2]]
                rest = rest[waste.end() :]
            for flat in flats.values():
                edges = (flat.bounds[axis], flat.bounds[axis + 2])
                across = (flat.bounds[1 - axis], flat.bounds[3 - axis])
                inside = across[0] > here[1 - axis] - NEAR and across[1] < here[3 - axis] + NEAR
                assert not (inside and edges[0] + NEAR < at[0] < edges[1] - NEAR), "the knife went through"
            part = list(here)
            part[axis], part[axis + 2] = last.get(depth, here[axis]), at[0]
            last[depth] = at[0]
            here = (part[0], part[1], part[2], part[3])
            rest = rest.removeprefix(": ")
            depth += 1
            last.pop(depth, None)
            blocks[depth] = here
        if rest.startswith("The rest"):
            axis = 0 if not blocks or _axis(lines, line) == 0 else 1
            part = list(here)
            part[axis] = last.get(depth, here[axis])
            here = (part[0], part[1], part[2], part[3])
            depth += 1
            blocks[depth] = here
            last.pop(depth, None)
            rest = rest.removeprefix("The rest").removeprefix(": ")
            if nested := re.match(r"(Cut across|Rip)", rest):
                free.update(follow([KnifeCut(0, rest, line.cuts)], here, flats))
                assert nested
                continue
        for cut in line.cuts:
            free[cut] = here
    return free


def _axis(lines: list[KnifeCut], line: KnifeCut) -> int:
    """The direction of the cuts beside a line of `The rest`."""
    for other in reversed(lines[: lines.index(line)]):
        if other.depth == line.depth:
            return 0 if other.words.startswith("Cut across") else 1
        if other.depth < line.depth:
            break
    return 1 - (line.depth % 2 == 0)


@pytest.mark.parametrize("units", ["imperial", "metric"])
def test_following_the_words_frees_every_piece(units: str) -> None:
    doc = packet_doc.make(units, faces=4)
    view = View(doc)
    count = 0
    for stock in doc["stock"]:
        flats = lying(doc, stock["id"])
        got = follow(knife_sequence(view, stock["id"]), (0.0, 0.0, stock["length_m"], stock["width_m"]), flats)
        assert set(got) == set(flats)
        for cut, block in got.items():
            x0, y0, x1, y1 = flats[cut].bounds
            assert x0 > block[0] - NEAR and y0 > block[1] - NEAR
            assert x1 < block[2] + NEAR and y1 < block[3] + NEAR
            others = [c for c in flats if c != cut and _inside(flats[c], block)]
            assert not others, (cut, others)
            count += 1
    assert count == len(doc["cuts"])


def _inside(flat: Polygon, block: Box) -> bool:
    x0, y0, x1, y1 = flat.bounds
    return min(x1, block[2]) - max(x0, block[0]) > 2 * NEAR and min(y1, block[3]) - max(y0, block[1]) > 2 * NEAR


def test_a_piece_in_the_hole_of_another_is_cut_by_the_outlines() -> None:
    doc = packet_doc.make(faces=1)
    flat = [[[0, 0], [2, 0], [2, 1], [0, 1], [0, 0]], [[0.5, 0.2], [1.5, 0.2], [1.5, 0.8], [0.5, 0.8], [0.5, 0.2]]]
    small = [[[0, 0], [0.4, 0], [0.4, 0.3], [0, 0.3], [0, 0]]]
    doc["stock"] = [{"id": "m/1", "product": "membrane-sa", "length_m": 5.0, "width_m": 1.0}]
    doc["cuts"] = [
        {"id": "a", "product": "m", "flat": flat, "folds": [], "stock": "m/1", "along_m": 0, "across_m": 0, "turned_deg": 0},
        {"id": "b", "product": "m", "flat": small, "folds": [], "stock": "m/1", "along_m": 0.6, "across_m": 0.3, "turned_deg": 0},
    ]  # fmt: skip
    (line,) = knife_sequence(View(doc), "m/1")
    assert line.words.startswith("Cut across at 6' 6-3/4\"")
    assert "by the outlines" in line.words and set(line.cuts) == {"a", "b"}


@st.composite
def guillotine(draw: st.DrawFn) -> list[Box]:
    """Rectangles on a 16 ft x 5 ft sheet that straight cuts can part, some of them waste."""
    out: list[Box] = []

    def part(x0: int, y0: int, x1: int, y1: int, depth: int) -> None:
        if depth < 5 and draw(st.booleans()) and max(x1 - x0, y1 - y0) >= 4:
            if (draw(st.booleans()) or y1 - y0 < 4) and x1 - x0 >= 4:
                at = draw(st.integers(x0 + 2, x1 - 2))
                part(x0, y0, at, y1, depth + 1)
                part(at, y0, x1, y1, depth + 1)
                return
            if y1 - y0 >= 4:
                at = draw(st.integers(y0 + 2, y1 - 2))
                part(x0, y0, x1, at, depth + 1)
                part(x0, at, x1, y1, depth + 1)
                return
        if draw(st.integers(0, 3)):
            out.append((x0 * IN, y0 * IN, x1 * IN, y1 * IN))

    part(0, 0, 192, 60, 0)
    return out


@given(guillotine())
@settings(max_examples=60 * int(os.environ.get("LAPWRIGHT_SOAK", "1")), deadline=None)
def test_any_sheet_that_straight_cuts_can_part_is_parted(boxes: list[Box]) -> None:
    doc = {
        "job": {"units": "imperial"},
        "surfaces": [],
        "pieces": [],
        "laps": [],
        "findings": [],
        "stock": [{"id": "s", "product": "m", "length_m": 192 * IN, "width_m": 60 * IN}],
        "cuts": [
            {
                "id": str(i),
                "product": "m",
                "flat": [[[0, 0], [x1 - x0, 0], [x1 - x0, y1 - y0], [0, y1 - y0], [0, 0]]],
                "folds": [],
                "stock": "s",
                "along_m": x0,
                "across_m": y0,
                "turned_deg": 0,
            }
            for i, (x0, y0, x1, y1) in enumerate(boxes)
        ],
    }
    lines = knife_sequence(View(doc), "s")
    assert not any("outlines" in line.words for line in lines)
    flats = lying(doc, "s")
    got = follow(lines, (0.0, 0.0, 192 * IN, 60 * IN), flats)
    assert set(got) == set(flats)
    for cut, block in got.items():
        assert not [c for c in flats if c != cut and _inside(flats[c], block)]
        assert Polygon(flats[cut]).within(box(*block).buffer(NEAR))
