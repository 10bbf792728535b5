"""The published schema holds the contract's keys and refuses what the contract does not allow."""

from __future__ import annotations

import copy
import json
from importlib import resources
from typing import Any

import jsonschema
import packet_doc
import pytest
from packet_doc import Written
from shapely import Polygon

SCHEMA: dict[str, Any] = json.loads(resources.files("lapwright.plan").joinpath("schema.json").read_text("utf-8"))
CHECK = jsonschema.Draft202012Validator(SCHEMA)

# Carried over by hand from the page "what plan.json holds" of the contract.
CONTRACT = {
    "surface": "id kind loop outline origin azimuth_deg left right openings penetrations zones",
    "opening": "id polygon shape state",
    "penetration": "id polygon kind",
    "zone": "id polygon decision assembly",
    "piece": "id surface plane polygon product role layer cut installed step",
    "cut": "id product flat folds stock along_m across_m turned_deg",
    "fold": "segment angle_deg",
    "stock": "id product length_m width_m",
    "lap": "id over under surface polygon kind asked_m got_m held",
    "edge": "piece segment role state length_m drains_m2",
    "tie": "id sides line length_m water air vapor heat by",
    "step": "id detail place action needs pieces people hours hours_source limits wait_after_h exposes covers cautions",
    "limits": "t_min_C t_max_C dry_before_h dry_after_h wind_max_m_s moisture_max_pct",
    "check": "id step place measure measured_in lower upper count hold if_fails source",
    "order_row": "product need measured_in spare spare_reason packs pack_size price kgCO2e",
    "bound": "product drawn_m stock_used packing_bound_m packing_bound_stock layout_bound_m proven leaves_out",
    "chalk": "surface layer y_m x_from_m x_to_m for",
    "finding": "code level where what why fix source changes",
}
LAYERS = (
    "barrier strip film tape flashing primer sealant insulation sheathing mat furring fastener vapor slab "
    "cladding unit existing"
)


@pytest.mark.parametrize("name", CONTRACT)
def test_each_record_requires_the_keys_of_the_contract(name: str) -> None:
    assert set(CONTRACT[name].split()) <= set(SCHEMA["$defs"][name]["required"])
    assert SCHEMA["$defs"][name]["additionalProperties"] is False


def test_the_words_of_the_contract_are_the_only_ones() -> None:
    defs = SCHEMA["$defs"]
    assert defs["layer"]["enum"] == LAYERS.split()
    assert defs["opening"]["properties"]["state"]["enum"] == ["before", "after", "kept", "insert"]
    assert defs["zone"]["properties"]["decision"]["enum"] == ["keep", "remove", "cover"]
    assert defs["piece"]["properties"]["plane"]["enum"] == ["face", "sill", "jamb", "head", "under"]
    assert defs["held"]["enum"] == ["adhered", "taped", "sealed", "fastened", "loose"]


def test_the_schema_itself_is_sound() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_written_plan_json_is_valid_and_its_rings_are_closed(written: Written) -> None:
    plan = json.loads((written.out / "plan.json").read_text("utf-8"))
    CHECK.validate(plan)
    assert plan == written.doc
    for piece in plan["pieces"]:
        for ring in piece["polygon"]:
            assert ring[0] == ring[-1]
        assert Polygon(piece["polygon"][0], piece["polygon"][1:]).is_valid


@pytest.mark.parametrize(
    ("path", "value", "says"),
    [
        (("pieces", 0, "layer"), "paint", "is not one of"),
        (("pieces", 0, "colour"), "red", "Additional properties"),
        (("pieces", 0, "polygon"), [[[0, 0], [1, 0]]], "too short"),
        (("stock", 0, "length_m"), 0.0, "less than or equal to the minimum"),
        (("steps", 0, "pieces"), [], "not valid under any"),
        (("order", 0, "price"), "12 dollars", "is not of type"),
        (("findings", 0, "level"), "error", "is not one of"),
        (("weather",), {}, "Additional properties"),
    ],
)
def test_what_the_contract_does_not_allow_is_refused(path: tuple[Any, ...], value: Any, says: str) -> None:
    doc = copy.deepcopy(packet_doc.make(faces=1))
    spot = doc
    for key in path[:-1]:
        spot = spot[key]
    spot[path[-1]] = value
    with pytest.raises(jsonschema.ValidationError, match=says):
        CHECK.validate(doc)


@pytest.mark.parametrize("key", SCHEMA["required"])
def test_a_missing_list_is_refused(key: str) -> None:
    doc = packet_doc.make(faces=1)
    del doc[key]
    with pytest.raises(jsonschema.ValidationError, match=key):
        CHECK.validate(doc)
