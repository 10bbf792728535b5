"""Every row of the table bites where its facts hold, stands beside the right step, and is silent where they do not."""

from __future__ import annotations

import csv
import re
from fnmatch import fnmatch
from pathlib import Path
from typing import Any

import pytest
from hazard_jobs import FACE, SKIN, found, house, pipe, window, with_layers

from lapwright.hazards import table
from lapwright.hazards.facts import CONDITIONS
from lapwright.hazards.rows import row

OUTSIDE = Path(__file__).parents[1] / "outside" / "data" / "hazard_clauses.csv"
TALL = {"height": "16'"}
FOAM = {"layer": "insulation", "product": "xps-iv"}
WOOL = {"layer": "insulation", "product": "mineral-wool-board"}
FURRED = [SKIN[0], {"layer": "furring", "product": "furring-1x3"}, *SKIN[2:]]
BRICK = {"layer": "sheathing", "material": "brick", "thickness": '8"', "existing": "yes"}


def wall(**face: Any) -> dict[str, Any]:
    return {"face": face}


def opened(**more: Any) -> dict[str, Any]:
    return wall(openings=[window(**more)])


def pierced(through: str = "", kind: str = "pipe", **more: Any) -> dict[str, Any]:
    return wall(penetrations=[pipe(through, kind, **more)])


def hung(**more: Any) -> dict[str, Any]:
    return wall(attachments=[{"id": "t1", **more}], **TALL)


LEDGER = hung(kind="deck_ledger", left="2'", right="8'", top="3'", depth='9-1/4"')
CHIMNEY = hung(kind="chimney", left="2'", right="5'", bottom="0\"", top="20'")
FRAMED = {"framing": {"stud": "2x4", "spacing": '16"', "first": '3/4"'}}
QUIET: dict[str, Any] = {}

# row: (house that triggers it, a step that must carry it, patterns that hold all steps that carry it, near miss)
CASES: dict[str, tuple[dict[str, Any], str, tuple[str, ...], dict[str, Any]]] = {
    "no-sheathing": (wall(found=[found("no_sheathing")]), "a/main/tear-off/tear-off", ("a/main/*",), wall(found=[found("rot")])),
    "old-wire-found": (wall(found=[found("old_wire")]), "a/main/tear-off/tear-off", ("a/main/*",), wall(found=[found("rot", "no wire")])),
    "asbestos-found": (wall(found=[found("asbestos_suspect")]), "a/main/tear-off/tear-off", ("*/tear-off", "*/prepare", "*/probe"),
                       wall(found=[found("rot")])),
    "vermiculite-found": (wall(found=[found("vermiculite")]), "a/main/tear-off/tear-off", ("*/tear-off", "*/prepare"),
                          wall(found=[found("open_bay")])),
    "bracing": (QUIET, "a/main/tear-off/tear-off", ("*/tear-off",), wall(decision="cover")),
    "lot-line": (wall(lot_line="4' 11\""), "a/main/tear-off/tear-off", ("a/*",), wall(lot_line="5' 2\"")),
    "wildfire": ({"wildfire": "yes"}, "a/main/mat/inlets", ("*/inlets", "*/outlets", "a/eave/*", "a/base/flashing"), {"wildfire": "no"}),
    "lead-window": ({"year_built": 1977, **opened()}, "a/w1/unit", ("a/w1/prepare", "a/w1/unit"), {"year_built": 1978, **opened()}),
    "lead-paint": ({"year_built": 1977}, "a/main/tear-off/tear-off", ("*/tear-off", "*/probe"), {"year_built": 1978}),
    "lead-crew": ({"year_built": None}, "a/main/tear-off/tear-off", ("*/tear-off", "*/prepare"), {"year_built": 1978}),
    "asbestos": ({"year_built": 1989}, "a/main/tear-off/tear-off", ("*/tear-off", "*/probe", "*/prepare"), {"year_built": 1990}),
    "silica": ({"layers": [{"layer": "cladding", "product": "lap-siding"}, *SKIN[1:]]}, "a/main/cladding/siding",
               ("*/siding", "*/tear-off"), QUIET),
    "falls": (wall(**TALL), "a/main/tear-off/tear-off", ("*",), QUIET),
    "ladders": (wall(**TALL), "a/eave/strip", ("*",), QUIET),
    "power-lines": ({"services": {"power": "overhead"}, **wall(**TALL)}, "a/eave/strip", ("*",), wall(**TALL)),
    "jacks": (wall(**TALL), "a/main/tear-off/tear-off", ("a/main/*",), wall(height="9' 6\"")),
    "brake-stock": ({"services": {}}, "a/base/flashing", ("*/flashing",), QUIET),
    "meter": (pierced("power", "meter"), "a/p1/prepare", ("a/p1/*",), pierced("power", "box")),
    "regulator": (pierced("gas regulator"), "a/p1/prepare", ("a/p1/*",), pierced("gas")),
    "gas-meter-on-wall": ({"services": {"power": "underground", "gas": "meter on a"}}, "a/main/tear-off/tear-off", ("a/main/*",),
                          {"services": {"power": "meter on a"}}),
    "gas": (pierced("gas"), "a/p1/collar", ("a/p1/*",), pierced("water")),
    "intake": (pierced("combustion air", "duct"), "a/p1/collar", ("a/p1/*",), pierced("bath fan", "duct")),
    "hot-vent": (pierced("flue"), "a/p1/prepare", ("a/p1/*",), pierced("water")),
    "knob-and-tube": ({"year_built": 1949, "layers": with_layers(inside=[WOOL])}, "a/main/tear-off/tear-off", ("*/tear-off", "*/prepare"),
                      {"year_built": 1949, "layers": with_layers(outside=[WOOL])}),
    "combustion": ({"fuel_burning": ["boiler"]}, "a/main/barrier/done", ("*/done", "*/air-seal", "a/eave/*"), {"fuel_burning": ["none"]}),
    "combustion-at-flue": (pierced("flue"), "a/p1/prepare", ("a/p1/*",), pierced("plumbing vent")),
    "radon": ({"lowest_floor": {"kind": "basement"}}, "a/main/barrier/done", ("*/done",), QUIET),
    "thermal-barrier": ({"layers": with_layers(inside=[FOAM])}, "a/main/barrier/prepare", ("*/prepare",), {"layers": with_layers(outside=[FOAM])}),
    "termites-very-heavy": ({"termites": "very heavy", "layers": with_layers(outside=[FOAM])}, "a/base/strip", ("a/base/*", "a/main/insulation/*"),
                            {"termites": "heavy", "layers": with_layers(outside=[FOAM])}),
    "termites": ({"termites": "slight", "layers": with_layers(outside=[FOAM])}, "a/base/strip", ("a/base/*", "a/main/insulation/*"),
                 {"termites": "slight", "layers": with_layers(outside=[WOOL])}),
    "egress": (opened(bedroom="yes"), "a/w1/prepare", ("a/w1/prepare", "a/w1/unit"), opened()),
    "egress-shrinks": (opened(basement="yes", state="insert"), "a/w1/prepare", ("a/w1/prepare", "a/w1/unit"), opened(basement="yes")),
    "overnight": (opened(), "a/w1/unit", ("a/w1/unit",), opened(state="kept")),
    "heavy-unit": (opened(weight="101 lb"), "a/w1/unit", ("a/w1/unit",), opened(weight="100 lb")),
    "fumes": (opened(), "a/w1/corners", ("*/corners", "*/air-seal", "*/film"), QUIET),
    "torch": ({"year_built": 1959}, "a/main/tear-off/tear-off", ("*/tear-off", "*/prepare"), {"year_built": 1960}),
    "hidden-lines": (QUIET, "a/main/cladding/trim", ("*",), {"layers": SKIN[1:]}),
    "old-masonry": ({"layers": [*SKIN[:3], BRICK, WOOL]}, "a/main/barrier/prepare", ("*/tear-off", "*/prepare"),
                    {"layers": [*SKIN[:2], WOOL, SKIN[2], BRICK]}),
    "old-chimney": (CHIMNEY, "a/t1/strips", ("a/t1/strips",), wall(**TALL)),
    "chimney-clearance": (CHIMNEY, "a/t1/strips", ("a/t1/strips",), LEDGER),
    "first-sizing": ({"layers": FURRED, **wall(**FRAMED)}, "a/main/furring/inlets", ("a/main/*",), QUIET),
    "slab-sizing": ({"layers": [*SKIN, {"layer": "slab", "product": "concrete"}]}, "a/main/tear-off/tear-off", ("a/main/*",), QUIET),
    "ledger": (LEDGER, "a/t1/strips", ("a/t1/strips",), CHIMNEY),
    "power": (pierced("power", "box"), "a/p1/prepare", ("a/p1/*",), pierced("data", "cable")),
    "not-said": (pierced(""), "a/p1/prepare", ("a/p1/*",), pierced("water")),
    "dryer": (pierced("dryer", "duct"), "a/p1/collar", ("a/p1/*",), pierced("bath fan", "duct")),
    "bath": (pierced("bath fan", "duct"), "a/p1/collar", ("a/p1/*",), pierced("range hood", "duct")),
    "kitchen": (pierced("range hood", "duct"), "a/p1/collar", ("a/p1/*",), pierced("dryer", "duct")),
    "water": (pierced("water"), "a/p1/prepare", ("a/p1/*",), pierced("gas")),
    "cooling": (pierced("heat pump"), "a/p1/prepare", ("a/p1/*",), pierced("water")),
    "plumbing": (pierced("plumbing vent"), "a/p1/prepare", ("a/p1/*",), pierced("water")),
    "attic-intake": (wall(eaves="vented"), "a/eave/strip", ("a/eave/*",), wall(eaves="open")),
    "open-bay": (wall(found=[found("open_bay")]), "a/main/tear-off/tear-off", ("*/tear-off", "*/prepare"), wall(found=[found("rot")])),
    "wind": (QUIET, "a/main/barrier/course-1", ("*/course-*",), {"layers": SKIN[:2]}),
}  # fmt: skip


def carrying(row_id: str, changes: dict[str, Any]) -> list[str]:
    return [s.id for s in house(**changes).steps if row(row_id).text in s.cautions]


def test_every_row_has_a_case() -> None:
    assert set(CASES) == {r.id for r in table()}


@pytest.mark.parametrize("row_id", CASES)
def test_the_hazard_stands_beside_the_step_where_it_bites(row_id: str) -> None:
    changes, step, within, _ = CASES[row_id]
    steps = carrying(row_id, changes)
    assert step in steps
    assert [s for s in steps if not any(fnmatch(s, p) for p in within)] == []


@pytest.mark.parametrize("row_id", CASES)
def test_where_its_facts_do_not_hold_the_hazard_is_not_said(row_id: str) -> None:
    *_, near_miss = CASES[row_id]
    assert carrying(row_id, near_miss) == []


# What the trade's list says, line by line: each word must stand in a caution of that line.
LINES = {
    1: ("only bracing", "one bay at a time", "brace first", "R602.10", "5 ft", "1-hour", "no openings under 3 ft", "R302.1",
        "new face", "ember"),
    2: ("1978", "Certified firm above 20 sq ft", "Any window replacement", "10 ft out", "within 20 ft shut",
        "within 10 ft of the lot line", "no torch", "no bare grinder", "40 CFR 745.85", "1926.62", "siding", "felt", "putty",
        "Vermiculite", "Storm windows count", "tested before", "1926.1101", "1926.1153"),
    3: ("6 ft", "1926.501", "10 ft", "1926.451(g)", "1 out for 4 up", "3 ft past the landing", "do not conduct", "1926.1053",
        "jacks", "1926.452", "300 V", "1926.451(f)(6)", "Brake stock conducts"),
    4: ("meter", "regulator", "relief vent", "intake", "flue", "new face", "utility", "Never wrap", "sheet, foam and wood stay off",
        "only the utility", "Knob-and-tube", "live: stop, electrician", "NEC 394.12"),
    5: ("pull flue gas indoors", "combustion test", "CO alarms", "licensed technician", "radon", "thermal barrier", "R316.4",
        "Very heavy termite zone", "below grade or under slabs", "exceptions", "6 in", "inspect", "R318.4"),
    6: ("5.7 sq ft", "5.0 at grade", "20 in wide", "24 in high", "sill 44 in", "largest that fits", "R310", "insert", "deep buck",
        "over 100 lb", "two people", "Primer", "foam give off vapor", "torch near old boards", "hidden wire", "gas",
        "Old masonry insulated inside", "freeze and thaw", "beam ends", "specialist"),
    7: ("Structural screws", "wind and cladding loads", "slab", "first sizing", "engineer signs"),
}  # fmt: skip


@pytest.mark.parametrize("line", LINES)
def test_every_line_of_the_trades_list_is_said_beside_a_step_of_a_house_that_calls_for_it(line: int) -> None:
    mine = [r for r in table() if r.line == line]
    assert mine
    said = ""
    for hazard in mine:
        changes, step, *_ = CASES[hazard.id]
        there = next(s for s in house(**changes).steps if s.id == step)
        said += " ".join(there.cautions)
    flat = said.lower()
    assert [w for w in LINES[line] if w.lower() not in flat] == []


def test_what_a_published_rule_states_stands_in_the_caution_that_cites_it() -> None:
    lines = [x for x in OUTSIDE.read_text(encoding="utf-8").splitlines() if not x.startswith("#")]
    missing = []
    for entry in csv.DictReader(lines):
        texts = [r.text for r in table() if any(c.code == entry["clause"] for c in r.cites)]
        if not any(entry["words"] in t for t in texts):
            missing.append(entry)
    assert missing == []


ALL_CLEAR = re.compile(
    r"\b(safe|safely|safety|ok|okay|harmless|no hazards?|no danger|no risk|all[- ]clear|nothing to (fear|mind)|free of|need not)\b", re.I
)


def test_no_text_is_an_all_clear_and_each_defers() -> None:
    for r in table():
        assert not ALL_CLEAR.search(r.text), r.text
        assert re.search(r"\(.*; local code( and .+)? decides?\)$", r.text), r.text
        assert r.say[0].isupper() and r.say.endswith("."), r.text
        assert len(r.text) < 340, r.text


def test_every_cite_has_an_edition_and_a_standing_or_is_practice() -> None:
    for r in table():
        for cite in r.cites:
            assert cite.standing == "practice" or re.fullmatch(r"\d{4}", cite.edition), r.id
            assert cite.standing != "seen" or cite.where, r.id


def test_every_condition_is_used_and_means_something() -> None:
    used = {name for r in table() for group in r.when for name in group}
    assert used == set(CONDITIONS)
    assert all(len(meaning) > 10 for _, meaning in CONDITIONS.values())


def test_cautions_of_a_detail_stay_first_and_none_stands_twice() -> None:
    from dataclasses import replace

    from lapwright.hazards import beside

    made = house(year_built=1900)
    own = [replace(s, cautions=("Mind the dog.", row("wind").text)) for s in made.steps]
    out = beside(own, made.job.survey, made.job.scope)
    again = beside(out, made.job.survey, made.job.scope)
    assert [s.id for s in out] == [s.id for s in own]
    for step, twice in zip(out, again, strict=True):
        assert step.cautions[:2] == ("Mind the dog.", row("wind").text)
        assert len(set(step.cautions)) == len(step.cautions)
        assert set(twice.cautions) == set(step.cautions)


def test_said_once_at_a_place_means_at_its_first_step() -> None:
    made = house(face={**FACE, **TALL, "openings": [window(sill="9'")]})
    steps = [s for s in made.steps if s.place == "a/w1"]
    assert [s.id for s in steps if row("ladders").text in s.cautions] == [steps[0].id]


def test_the_height_counts_from_the_ground_also_on_a_dormer() -> None:
    low = [{"id": "a", "width": "20'", "height": "4'", "decision": "keep"}]
    dormer = {"id": "d", "loop": "dormer", "width": "6'", "height": "22'", "decision": "remove", "assembly": "skin"}
    made = house(faces=[*low, dormer], loops={"main": {"closed": "no"}, "dormer": {"base": "18'", "closed": "no"}})
    (tear,) = [s for s in made.steps if s.id == "d/main/tear-off/tear-off"]
    assert row("falls").text in tear.cautions
