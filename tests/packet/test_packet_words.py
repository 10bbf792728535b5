"""Figures in a reader's words, against published conversions (NIST SP 811, appendix B, from memory)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import packet_doc
import pytest

from lapwright.packet import write
from lapwright.packet.sheets import lap_words, sheets
from lapwright.packet.view import View
from lapwright.packet.words import bound_words, figure, findings, limits, money_range, passes, quantity

FEET = View(packet_doc.make("imperial", faces=1))
METRES = View(packet_doc.make("metric", faces=1))


@pytest.mark.parametrize(
    ("value", "unit", "feet", "metric"),
    [
        (3.8227, "m", "12' 6-1/2\"", "3822.7 mm"),
        (0.000508, "m", "20 mil", "0.508 mm"),
        (101.6, "mm", '4"', "101.6 mm"),
        (0.25, "in", '1/4"', "6.4 mm"),
        (9.290304, "m2", "100 sq ft", "9.29 m2"),
        (0.003785411784, "m3", "1 gal", "3.79 L"),
        (0.2957353, "L", "10 fl oz", "0.296 L"),
        (45.359237, "kg", "100 lb", "45.36 kg"),
        (4.444, "C", "40 °F", "4 °C"),
        (2.778, "K", "5 °F", "2.778 K"),
        (8.9408, "m/s", "20 mph", "8.9 m/s"),
        (7.0, "each", "7 each", "7 each"),
        (None, "m", "not given", "not given"),
    ],
)
def test_quantities_are_said_in_the_job_s_units(value: float | None, unit: str, feet: str, metric: str) -> None:
    assert quantity(FEET, value, unit) == feet
    assert quantity(METRES, value, unit) == metric


@pytest.mark.parametrize(
    ("lower", "upper", "unit", "says"),
    [
        (3.0, None, "deg", "3° or more"),
        (None, 19.0, "%", "19 % or less"),
        (0.000508, 0.000762, "m", "20 mil to 30 mil"),
        (1.0, None, "yes/no", "yes"),
        (None, None, "", "yes"),
        (5.0, 5.0, "each", "5 each"),
    ],
)
def test_a_check_says_what_passes(lower: float | None, upper: float | None, unit: str, says: str) -> None:
    assert passes(FEET, {"lower": lower, "upper": upper, "measured_in": unit}) == says


def test_limits_are_said_in_one_line_and_unknown_ones_are_left_out() -> None:
    row = {
        "t_min_C": -6.667,
        "t_max_C": None,
        "dry_before_h": 24.0,
        "dry_after_h": None,
        "wind_max_m_s": 8.941,
        "moisture_max_pct": 19.0,
    }
    assert limits(FEET, row) == "20 °F or warmer · dry for 24 h before · wind up to 20 mph · wood at or below 19 %"
    assert limits(FEET, {}) == ""


def test_a_range_of_money_with_a_hole_is_not_given() -> None:
    assert money_range(None, "USD") == "not given"
    assert money_range([100.0, None], "USD") == "not given"  # type: ignore[list-item]
    assert money_range([1000.4, 2500.0], "USD") == "1,000 to 2,500 USD"


def test_key_figures_read_their_unit_from_their_name() -> None:
    assert figure(FEET, "new_skin_m2", 9.290304) == ("new skin", "100 sq ft")
    assert figure(FEET, "drawn_m", 3.048) == ("drawn", "10 ft")
    assert figure(FEET, "pieces", 226) == ("pieces", "226")
    assert figure(FEET, "rolls", None) == ("rolls", "not given")


def test_findings_that_ask_for_the_same_thing_stand_together() -> None:
    rows = [
        packet_doc.finding("a.b", "warn", f"No detail serves {p}.", "why", "Choose a detail.", surface="f", thing=p)
        for p in ("x", "y")
    ]
    rows.append(packet_doc.finding("c.d", "stop", "Tape open.", "", "Tape it again.", file="house.yaml", line=3))
    groups = findings(rows)
    assert [g["level"] for g in groups] == ["stop", "warn"]
    (item,) = groups[1]["items"]
    assert [a["where"] for a in item["at"]] == ["f, x", "f, y"]
    assert groups[0]["items"][0]["at"][0]["where"] == "house.yaml line 3"


def test_laps_are_said_with_the_narrowest_drawn() -> None:
    doc = packet_doc.make(faces=1)
    sheet = next(s for s in sheets(View(doc)) if s.key == "barrier")
    for row in doc["laps"]:
        if row["kind"] == "end":
            row["got_m"] = 0.1778
    doc["laps"][[r["kind"] for r in doc["laps"]].index("end")]["got_m"] = 0.0762
    words = lap_words(View(doc), sheet)
    assert 'end 6" asked, 3" the narrowest drawn' in words


def test_waste_stands_beside_what_no_packing_can_do_without() -> None:
    assert bound_words(FEET, "membrane-sa").startswith("328' 1\"+ drawn from")
    assert "314' 11" in bound_words(FEET, "membrane-sa")
    assert bound_words(FEET, "liquid-flash") == ""


@pytest.mark.parametrize("name", ["north/upper", "..", "a\\b", "A", "été"])
def test_file_names_stay_in_their_folder_and_apart(tmp_path: Path, name: str) -> None:
    doc: dict[str, Any] = packet_doc.make(faces=2)
    doc["surfaces"][1]["id"] = doc["surfaces"][0]["right"] = name
    for row in (*doc["pieces"], *doc["laps"], *doc["lines"]):
        row["surface"] = name if row["surface"] == "right" else row["surface"]
    doc["stock"].append({**doc["stock"][0], "id": doc["stock"][0]["id"].replace("/", "-")})
    files = write(doc, tmp_path / "packet")
    assert len(files) == len(set(files))
    assert {p.parent.relative_to((tmp_path / "packet").resolve()).as_posix() for p in files} == {
        ".",
        "surfaces",
        "rolls",
    }
    assert sum(p.parent.name == "rolls" for p in files) == len(doc["stock"])
