"""The examples keep the geometry rules (see tests/rules.py, written from the contract)."""

from __future__ import annotations

import pytest

from conftest import SOAK, doc_of, holes_of, plan_of
from rules import broken_rules

NAMES = ["one-face", "metric", "demo", "own-detail", "foam-wall"]


@pytest.mark.parametrize("name", NAMES)
def test_an_example_keeps_the_geometry_rules(name: str) -> None:
    plan = plan_of(name)
    assert broken_rules(doc_of(name), holes_of(plan), points=300 * SOAK) == []


@pytest.mark.parametrize("name", NAMES)
def test_every_lap_is_as_wide_as_asked(name: str) -> None:
    assert [x["id"] for x in doc_of(name)["laps"] if x["got_m"] < x["asked_m"] - 1e-4] == []


@pytest.mark.parametrize("name", ["one-face", "metric", "demo", "own-detail", "foam-wall"])
def test_no_example_stops(name: str) -> None:
    assert [f["what"] for f in doc_of(name)["findings"] if f["level"] == "stop"] == []


def test_the_demo_has_nothing_to_warn_of() -> None:
    assert [f["what"] for f in doc_of("demo")["findings"] if f["level"] == "warn"] == []
