"""The fan chart: marks where the figures say, legible without color, sound for any readings."""

from __future__ import annotations

import math
import os
import re
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright import tightness
from lapwright.packet.fan_chart import fan_chart
from lapwright.tightness import parse_readings, read_readings

DEMO = Path(__file__).parent.parent.parent / "examples" / "demo"
SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
SVG = "{http://www.w3.org/2000/svg}"


def demo_tests() -> list[dict[str, object]]:
    return [row for name in ("before", "after") for row in tightness.tests_of(read_readings(DEMO / f"fan-{name}.csv"))]


def paths(svg: str) -> list[list[tuple[float, float]]]:
    """Return the points of every path."""
    out = []
    for node in ElementTree.fromstring(svg).iter(f"{SVG}path"):
        numbers = [float(x) for x in re.findall(r"-?[0-9.]+", node.attrib["d"])]
        out.append(list(zip(numbers[::2], numbers[1::2], strict=True)))
    return out


def test_the_chart_is_one_sound_picture_with_words_and_twice_the_same() -> None:
    tests = demo_tests()
    svg = fan_chart(tests, "imperial")
    assert svg == fan_chart(demo_tests(), "imperial")
    root = ElementTree.fromstring(svg)
    words = [t.text for t in root.iter(f"{SVG}text")]
    assert words.count("before") == 2 and "flow through the leaks, cfm" in words and "50" in words
    description = root.find(f"{SVG}desc")
    assert description is not None and description.text is not None and "after, pressurize" in description.text
    assert "m3/h" in fan_chart(tests, "metric") and "m3/h" not in svg
    box = [float(x) for x in root.attrib["viewBox"].split()]
    for path in paths(svg):
        assert all(0 <= x <= box[2] and 0 <= y <= box[3] for x, y in path)


def test_nothing_rests_on_color() -> None:
    colors = set(re.findall(r'(?:fill|stroke)="(#[0-9a-f]{3,6})"', fan_chart(demo_tests())))
    for color in colors:
        digits = color[1:] if len(color) == 7 else "".join(c * 2 for c in color[1:])
        red, green, blue = (int(digits[i : i + 2], 16) for i in (0, 2, 4))
        assert max(red, green, blue) - min(red, green, blue) < 20, color


def test_marks_lie_where_their_figures_are() -> None:
    # Round marks of an exact law (flows of four digits, so within a tenth of a point): their middles lie on a straight line, a pressure twice as high equally far on.
    text = "dp_Pa,flow_m3_h\n" + "".join(f"{p},{50 * p**0.5:.6f}\n" for p in (8, 16, 32, 64))
    rounds = [p for p in paths(fan_chart(tightness.tests_of(parse_readings(text)))) if len(p) == 16]
    middles = [(sum(x for x, _ in p) / 16, sum(y for _, y in p) / 16) for p in rounds]
    assert len(middles) == 4
    steps = [(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(middles)]
    for dx, dy in steps:
        assert (dx, dy) == (pytest.approx(steps[0][0], abs=0.1), pytest.approx(steps[0][1], abs=0.1))
        assert dx > 0 > dy


def test_marks_tell_the_modes_apart() -> None:
    # Seven readings each way, before and after: as many full marks as open ones.
    marks = [
        n for n in ElementTree.fromstring(fan_chart(demo_tests())).iter(f"{SVG}path") if n.get("stroke-width") == "0.9"
    ]
    marks = [n for n in marks if n.attrib["d"].endswith("Z")]
    assert [sum(n.attrib["fill"] == fill for n in marks) for fill in ("#1b1e21", "#fff")] == [14, 14]


def test_a_line_is_dashed_where_nothing_was_measured() -> None:
    text = "dp_Pa,flow_m3_h\n12,100\n20,140\n30,180\n40,215\n"
    svg = fan_chart(tightness.tests_of(parse_readings(text)))
    assert svg.count("stroke-dasharray") == 2 and "extrapolated" in svg and "about " in svg


def test_no_test_and_a_long_name_still_draw() -> None:
    ElementTree.fromstring(fan_chart([]))
    (row,) = tightness.tests_of(parse_readings("dp_Pa,flow_m3_h\n12,100\n20,140\n30,180\n40,215\n", "x" * 300 + ".csv"))
    assert "…" in fan_chart([row])


@settings(max_examples=100 * SOAK, deadline=None, derandomize=SOAK == 1)
@given(
    st.floats(1, 1e5),
    st.floats(0.3, 1.1),
    st.lists(st.floats(0.7, 1.4), min_size=3, max_size=6),
    st.integers(1, 9),
)
def test_any_readings_stay_on_the_paper(C: float, n: float, noise: list[float], count: int) -> None:
    rows = "".join(f"{12 * (k + 1)},{C * (12 * (k + 1)) ** n * f:.6f}\n" for k, f in enumerate(noise))
    try:
        (row,) = tightness.tests_of(parse_readings("dp_Pa,flow_m3_h\n" + rows))
    except Exception as error:
        assert type(error).__name__ == "BadJob"
        return
    svg = fan_chart([{**row, "test": f"test {k}"} for k in range(count)])
    box = [float(x) for x in ElementTree.fromstring(svg).attrib["viewBox"].split()]
    for path in paths(svg):
        assert all(math.isfinite(x + y) and 0 <= x <= box[2] and 0 <= y <= box[3] for x, y in path)
