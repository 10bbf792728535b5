"""The generator makes what it promises: houses that read without a complaint, with every feature often enough."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

from houses import PENETRATIONS, SHAPES, STATES, random_house

from conftest import SOAK
from lapwright.catalog.load import load
from lapwright.scope.read import job_of
from lapwright.yamlfile import parse_yaml

CATALOG = load()[0]
FEATURES = (
    *(f"{s} opening" for s in (*STATES, *SHAPES)),
    *PENETRATIONS,
    *("roof", "porch_roof", "deck_ledger", "chimney", "roof_return", "belly_band", "eave"),
    *("closed loop", "open chain", "dormer", "outside corner", "inside corner", "turn that is not right"),
    *("stepped base", "own base", "gable", "rake of an eave", "free outline", "party wall or garage"),
    *("1 zones", "2 zones", "3 zones", "zone with corners", "keep", "remove", "cover", "sticky", "wrapped"),
    *("opening at the base", "opening near an edge", "openings close together", "opening over several courses"),
    *("opening over a zone's edge", "stock on hand", "own laps", "metric", "imperial"),
)


def test_every_feature_occurs_and_every_house_reads() -> None:
    seen: Counter[str] = Counter()
    for seed in range(60 * SOAK):
        house = random_house(seed)
        seen += house.features
        job = job_of(parse_yaml(house.text), Path("house.yaml"), CATALOG)
        assert [f for f in job.findings if f.level == "stop"] == [], f"seed {seed}"
        tape = {f.code for f in job.findings if f.code.startswith("tape.")}
        assert tape <= {"tape.closes", "tape.chain"}, f"seed {seed}: {tape}"
    print(", ".join(f"{k} {seen[k]}" for k in sorted(seen)))
    assert set(seen) == set(FEATURES)
    assert {k: n for k, n in seen.items() if n < 8} == {}


def test_a_seed_gives_one_house() -> None:
    assert random_house(7).text == random_house(7).text != random_house(8).text
