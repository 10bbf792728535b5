"""Findings of hazards: stops until something was done and written down, questions where the survey is silent, never an all-clear."""

from __future__ import annotations

import random
import re
from typing import Any

import pytest
from hazard_jobs import found, house, pipe, with_layers
from test_hazard_table import ALL_CLEAR, CASES

from lapwright.findings import Finding
from lapwright.hazards import findings, table
from lapwright.plan.graph import Plan

WOOL = {"layer": "insulation", "product": "mineral-wool-board"}
FOAM = {"layer": "insulation", "product": "xps-iv"}
FILLED = with_layers(inside=[WOOL])


def of(made: Plan, code: str) -> list[Finding]:
    return [f for f in made.findings if f.code == f"hazards.{code}"]


def levels(made: Plan, code: str) -> list[str]:
    return [f.level for f in of(made, code)]


# ---------------------------------------------------------------- what came to light


def test_no_sheathing_stops_until_the_wall_is_braced() -> None:
    (stop,) = of(house(face={"found": [found("no_sheathing")]}), "no_sheathing")
    assert stop.level == "stop" and "brace it first" in stop.fix and "R602.10" in stop.source
    assert stop.where.surface == "a" and stop.where.thing == "f1" and stop.where.line
    assert stop.where.x_m == pytest.approx(3 * 0.3048) and stop.where.y_m == pytest.approx(2 * 0.3048)
    assert levels(house(face={"found": [found("no_sheathing", "braced by J., 3 May")]}), "no_sheathing") == ["warn"]
    assert levels(house(face={"found": [found("no_sheathing", "not braced yet")]}), "no_sheathing") == ["stop"]
    assert levels(house(face={"found": [found("no_sheathing")], "decision": "keep"}), "no_sheathing") == ["warn"]
    assert levels(house(face={"found": [found("rot")]}), "no_sheathing") == []


def test_live_old_wire_in_a_bay_to_be_filled_stops_for_the_electrician() -> None:
    wire = {"found": [found("knob-and-tube wire")]}
    (stop,) = of(house(face=wire, layers=FILLED), "old_wire")
    assert stop.level == "stop" and "electrician" in stop.fix and "394.12" in stop.source
    assert levels(house(face=wire), "old_wire") == ["warn"]
    assert levels(house(face=wire, layers=with_layers(outside=[WOOL])), "old_wire") == ["warn"]
    dead = {"found": [found("knob-and-tube wire", "dead at both ends, electrician, 4 May")]}
    assert levels(house(face=dead, layers=FILLED), "old_wire") == ["warn"]
    undone = {"found": [found("knob-and-tube wire", "not dead")]}
    assert levels(house(face=undone, layers=FILLED), "old_wire") == ["stop"]


@pytest.mark.parametrize("what, code", [("asbestos_suspect", "asbestos"), ("vermiculite", "vermiculite")])
def test_what_may_hold_asbestos_stops_until_it_is_tested(what: str, code: str) -> None:
    assert levels(house(face={"found": [found(what)]}), code) == ["stop"]
    assert levels(house(face={"found": [found(what, "untested")]}), code) == ["stop"]
    (warn,) = of(house(face={"found": [found(what, "tested: none in the felt, some in the putty")]}), code)
    assert warn.level == "warn" and "licensed" in warn.fix


def test_a_stop_of_a_found_thing_bears_on_the_zone_it_lies_in() -> None:
    zones = [{"id": "old", "right": "6'", "decision": "keep"}]
    assert levels(house(face={"found": [found("no_sheathing")], "zones": zones}), "no_sheathing") == ["warn"]
    far = {**found("no_sheathing"), "at": ["12'", "2'"]}
    assert levels(house(face={"found": [far], "zones": zones}), "no_sheathing") == ["stop"]


def test_an_accepted_stop_stays_a_stop() -> None:
    accept = [{"code": "hazards.no_sheathing", "place": "f1", "reason": "it has stood for a hundred years"}]
    assert levels(house(face={"found": [found("no_sheathing")]}, accept=accept), "no_sheathing") == ["stop"]


# ---------------------------------------------------------------- what the survey does not say


@pytest.mark.parametrize(
    "silent, code, level",
    [
        ({"year_built": None}, "year_not_given", "warn"),
        ({"fuel_burning": None}, "fuel_not_given", "warn"),
        ({"services": {}}, "power_not_given", "note"),
        ({"face": {"lot_line": None}}, "lot_line_not_given", "note"),
        ({"termites": None, "layers": with_layers(outside=[FOAM])}, "termites_not_given", "note"),
    ],
)
def test_what_decides_a_hazard_and_is_not_said_is_asked(silent: dict[str, Any], code: str, level: str) -> None:
    (said,) = of(house(**silent), code)
    assert said.level == level and "`" in said.fix
    told = {k: v for k, v in silent.items() if k == "layers"}
    assert of(house(**told), code) == []


def test_a_house_that_keeps_every_wall_is_asked_nothing() -> None:
    made = house(face={"decision": "keep", "lot_line": None}, year_built=None, fuel_burning=None, services={})
    assert [f for f in made.findings if f.code.startswith("hazards.")] == []


# ---------------------------------------------------------------- lot line


def test_foam_that_brings_the_face_under_five_feet_is_told_with_the_figure() -> None:
    near = {"lot_line": "5' 1\""}
    assert of(house(face={"lot_line": "5' 3\""}), "lot_line") == []
    (said,) = of(house(face=near, layers=with_layers(outside=[FOAM])), "lot_line")
    # 3/4 siding + 3/8 mat + 2 foam + 22 mil of sheet, worked by hand: 61 - 3.147 in = 4 ft 9-7/8 in
    assert said.level == "warn" and "4' 9-7/8\"" in said.what and "brings it under" in said.what
    (under,) = of(house(face={"lot_line": "3'"}), "lot_line")
    assert "brings it under" not in under.what and "R302.1" in under.source


# ---------------------------------------------------------------- never wrapped


WRAPPED = [("meter", "gas"), ("pipe", "gas regulator"), ("duct", "combustion air"), ("pipe", "plumbing vent")]


@pytest.mark.parametrize("kind, through", WRAPPED)
def test_a_detail_that_runs_the_sheet_over_a_meter_vent_or_intake_is_a_stop(kind: str, through: str) -> None:
    clear = house(face={"penetrations": [pipe(through, kind)]})
    assert of(clear, "wrapped") == []
    over = house(face={"penetrations": [pipe(through, kind, detail="penetration-bracket")]})
    (stop,) = of(over, "wrapped")
    assert stop.level == "stop" and "p1 on a" in stop.what and "barrier" in stop.what
    assert stop.where.thing == "p1" and stop.where.line


def test_the_same_over_a_hose_pipe_is_no_matter_of_this_table() -> None:
    assert of(house(face={"penetrations": [pipe("water", detail="penetration-bracket")]}), "wrapped") == []


def test_a_meter_that_the_utility_takes_off_is_a_warning_with_the_date() -> None:
    made = house(face={"penetrations": [pipe("power", "meter", detail="penetration-meter-released")]})
    (said,) = of(made, "meter_released")
    assert said.level == "warn" and "utility" in said.fix and of(made, "wrapped") == []


def test_sheet_that_touches_a_hot_vent_is_a_stop() -> None:
    assert of(house(face={"penetrations": [pipe("flue")]}), "hot_vent") == []
    (stop,) = of(house(face={"penetrations": [pipe("flue", "box")]}), "hot_vent")
    assert stop.level == "stop" and "p1 on a" in stop.what
    far = house(face={"penetrations": [pipe("flue")]}, settings={"penetration-hot-vent": {"hot_clear": '3"'}})
    assert of(far, "hot_vent") == []


def test_a_gas_meter_that_is_named_but_not_listed_is_asked_for() -> None:
    gas = {"power": "underground", "gas": "meter on a"}
    (said,) = of(house(services=gas), "meter_not_listed")
    assert said.level == "warn" and "kind: meter" in said.fix
    assert of(house(face={"penetrations": [pipe("gas", "meter")]}, services=gas), "meter_not_listed") == []


# ---------------------------------------------------------------- nothing gets lost, nothing is called clear


def test_a_hazard_of_the_wall_that_no_step_carries_is_said_as_a_note() -> None:
    bare = [{"layer": "sheathing", "material": "board", "existing": "yes"}, FOAM]
    made = house(layers=bare, face={"decision": "cover"})
    (said,) = [f for f in of(made, "no_step") if "thermal barrier" in f.what]
    assert said.level == "note"
    assert [f for f in of(house(layers=with_layers(inside=[FOAM])), "no_step") if "thermal barrier" in f.what] == []


@pytest.mark.parametrize("row_id", CASES)
def test_no_finding_of_any_house_is_an_all_clear(row_id: str) -> None:
    for changes in (CASES[row_id][0], CASES[row_id][3]):
        for f in house(**changes).findings:
            if f.code.startswith("hazards."):
                text = f"{f.what} {f.why} {f.fix}"
                assert not ALL_CLEAR.search(text), text
                assert "decide" in f.why or f.code == "hazards.no_step"
                assert f.level != "stop" or f.fix


def test_the_examples_are_without_a_stop_and_every_new_unit_stands_beside_its_night(demo: Plan) -> None:
    assert [f.code for f in demo.findings if f.level == "stop" and f.code.startswith("hazards")] == []
    units = [s for s in demo.steps if s.id.endswith("/unit")]
    assert units and all(any("overnight" in c for c in s.cautions) for s in units)


def test_without_a_scope_everything_found_is_in_the_way() -> None:
    made = house(face={"found": [found("old_wire")], "decision": "keep"})
    assert [f.level for f in findings(made.job.survey) if f.code == "hazards.old_wire"] == ["stop"]


def test_random_notes_never_lift_a_stop_without_the_word() -> None:
    rng = random.Random(7)
    words = ["looks", "old", "sound", "painter", "says", "it", "is", "good", "not", "tested", "braced", "dead", "un", "later"]
    for _ in range(300):
        note = " ".join(rng.choice(words) for _ in range(rng.randrange(0, 6)))
        made = _survey(note)
        level = next(f.level for f in findings(made) if f.code == "hazards.no_sheathing")
        lifted = "braced" in note.split() and "not braced" not in note
        assert level == ("warn" if lifted else "stop"), note


def _survey(note: str) -> Any:
    from pathlib import Path

    from hazard_jobs import CATALOG, job_text

    from lapwright.scope.read import job_of
    from lapwright.yamlfile import parse_yaml

    return job_of(parse_yaml(job_text({"found": [found("no_sheathing", note)]})), Path("house.yaml"), CATALOG).survey


def test_the_page_lists_every_hazard_and_code() -> None:
    from pathlib import Path

    from lapwright.hazards.page import renewed

    root = Path(__file__).parents[2]
    page = (root / "docs" / "hazards.md").read_text(encoding="utf-8")
    assert renewed(page) == page, "run: python -m lapwright.hazards.page docs/hazards.md"
    assert [r.id for r in table() if f"`{r.id}`" not in page] == []
    said = set()
    for name in ("found.py", "covered.py"):
        text = (root / "src/lapwright/hazards" / name).read_text(encoding="utf-8")
        said |= set(re.findall(r'"(hazards\.[a-z_]+)"', text)) | {f"hazards.{c}" for c in re.findall(r'ask\(\s*"([a-z_]+)"', text)}
    assert len(said) > 10
    assert said == set(re.findall(r"`(hazards\.[a-z_]+)`", page))




def test_the_words_of_every_caution_stand_in_the_table_and_nowhere_else(demo: Plan) -> None:
    said = {c for s in demo.steps for c in s.cautions}
    assert len(said) > 25 and said <= {r.text for r in table()}
