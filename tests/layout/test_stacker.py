"""Laps of the examples against a stack of sheets (see tests/stacker.py, written from the words of the rules alone)."""

from __future__ import annotations

import json
import random

import pytest

from conftest import SOAK, plan_of
from lapwright.plan.document import document
from stacker import differences

SPOTS = 150 * SOAK


@pytest.mark.parametrize("name", ["one-face", "demo", "metric", "foam-wall"])
def test_laps_are_what_a_stack_of_sheets_gives(name: str) -> None:
    plan = plan_of(name)
    found, compared = differences(plan, document(plan, ["surfaces", "pieces", "laps"]), random.Random(5), SPOTS)
    assert found == []
    assert compared > 100


def test_the_stack_would_see_a_lap_turned_round() -> None:
    plan = plan_of("demo")
    doc = json.loads(json.dumps(document(plan, ["surfaces", "pieces", "laps"])))
    for lap in doc["laps"]:
        if lap["kind"] == "course":
            lap["over"], lap["under"] = lap["under"], lap["over"]
    found, _ = differences(plan, doc, random.Random(5), 60)
    assert found
