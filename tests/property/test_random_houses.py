"""Random houses through the whole plan: a document that keeps every rule, or findings; never another end.

The houses come from `houses.py`; LAPWRIGHT_SOAK multiplies their number.
"""

from __future__ import annotations

import random
import re
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml
from houses import random_house

from conftest import SOAK, holes_of
from lapwright.catalog.load import load
from lapwright.findings import BadJob, Finding
from lapwright.plan.document import document
from lapwright.plan.graph import Plan
from lapwright.scope.read import job_of
from lapwright.yamlfile import parse_yaml
from plan_rules import broken_plan_rules
from rules import broken_rules
from stacker import differences

CATALOG = load()[0]
FILE = Path(__file__).parent / "house.yaml"  # the name in findings; nothing is read from there
HOUSES = 15 * SOAK
BROKEN = 60 * SOAK


def plan_of_text(text: str) -> Plan:
    return Plan(job_of(parse_yaml(text), FILE, CATALOG), CATALOG)


@pytest.mark.parametrize("seed", range(HOUSES))
def test_a_random_house_keeps_every_rule(seed: int) -> None:
    plan = plan_of_text(random_house(seed).text)
    doc = document(plan)
    holes = holes_of(plan)
    assert broken_rules(doc, holes, seed=seed, points=60) == []
    assert broken_plan_rules(doc, holes) == []
    assert differences(plan, doc, random.Random(seed), 40)[0] == []
    for finding in plan.findings:
        told(finding)


MUST = (
    *("stepped base", "gable", "inside corner", "arch opening", "3 zones", "dormer"),
    *("before opening", "after opening", "kept opening", "insert opening"),
)  # a dormer is a loop of faces set back from the wall below


def test_the_houses_have_what_old_houses_have(capsys: pytest.CaptureFixture[str]) -> None:
    seen = sum((random_house(seed).features for seed in range(HOUSES)), Counter[str]())
    with capsys.disabled():
        print(f"\n{HOUSES} random houses:", ", ".join(f"{k} {seen[k]}" for k in sorted(seen)))
    assert {k for k in MUST if seen[k] < 3} == set()


def told(finding: Finding) -> None:
    """A finding has a code, words and, when it stops the job, a fix."""
    assert re.fullmatch(r"[a-z0-9]+(\.[a-z0-9_]+)+", finding.code), finding
    assert finding.what and finding.where is not None, finding
    assert finding.level != "stop" or finding.fix, finding


# ---------------------------------------------------------------- broken houses

Spoiler = Callable[[dict[str, Any], random.Random], bool]


def _faces(data: dict[str, Any], key: str) -> list[dict[str, Any]]:
    return [f for f in data["faces"] if f.get(key)]


def _opening(data: dict[str, Any], rng: random.Random, key: str) -> tuple[dict[str, Any], dict[str, Any]] | None:
    """Return (face, opening) of a random opening that has `key`, or None."""
    found = [(f, o) for f in _faces(data, "openings") for o in f["openings"] if key in o]
    return rng.choice(found) if found else None


def opening_outside(data: dict[str, Any], rng: random.Random) -> bool:
    got = _opening(data, rng, "left")
    if got:
        got[1]["left"] = "70'"
    return bool(got)


def opening_below(data: dict[str, Any], rng: random.Random) -> bool:
    got = _opening(data, rng, "sill")
    if got:
        got[1]["sill"] = "-30'"
    return bool(got)


def openings_overlap(data: dict[str, Any], rng: random.Random) -> bool:
    got = _opening(data, rng, "shape") or _opening(data, rng, "left")
    if got:
        got[0]["openings"].append({**got[1], "id": "copy"})
    return bool(got)


def negative_size(data: dict[str, Any], rng: random.Random) -> bool:
    got = _opening(data, rng, "width")
    if got:
        got[1][rng.choice(("width", "height"))] = rng.choice(("-3'", "0", "-1 mm"))
    return bool(got)


def negative_width(data: dict[str, Any], rng: random.Random) -> bool:
    rng.choice(data["faces"])["width"] = rng.choice(("-12'", 0, "0'"))
    return True


def zones_overlap(data: dict[str, Any], rng: random.Random) -> bool:
    found = _faces(data, "zones")
    if found:
        face = rng.choice(found)
        face["zones"].append({**face["zones"][0], "id": "twin"})
    return bool(found)


def unknown_product(data: dict[str, Any], rng: random.Random) -> bool:
    rng.choice(rng.choice(list(data["assemblies"].values())))["product"] = "no-such-thing"
    return True


def unknown_assembly(data: dict[str, Any], rng: random.Random) -> bool:
    face = rng.choice(data["faces"])
    face.update(decision="remove", assembly="no-such-skin")
    return True


def unknown_name(data: dict[str, Any], rng: random.Random) -> bool:
    rng.choice(data["faces"])["hieght"] = "9'"
    return True


def nothing_there(data: dict[str, Any], rng: random.Random) -> bool:
    del rng.choice(data["faces"])["width"]
    return True


def upside_down(data: dict[str, Any], rng: random.Random) -> bool:
    found = _faces(data, "height")
    if found:
        rng.choice(found)["height"] = "-40'"
    return bool(found)


def repeated_face(data: dict[str, Any], rng: random.Random) -> bool:
    data["faces"].append(dict(rng.choice(data["faces"])))
    return True


def lap_wider_than_the_roll(data: dict[str, Any], rng: random.Random) -> bool:
    data["settings"] = {n: {"course_lap": "12'"} for n in ("courses-self-adhered", "courses-fastened")}
    return any(z.get("decision", "keep") != "keep" and f.get("adjoins", "outside") == "outside"
               for f in data["faces"] for z in (f,))  # fmt: skip


def tape_that_does_not_close(data: dict[str, Any], rng: random.Random) -> bool:
    loop = data["loops"]["main"]
    if loop["closed"] is not True:
        return False
    rng.choice([f for f in data["faces"] if f["loop"] == "main"])["width"] = "77'"
    return True


def penetration_in_an_opening(data: dict[str, Any], rng: random.Random) -> bool:
    got = _opening(data, rng, "center")
    if got:
        got[0].setdefault("penetrations", []).append({"id": "px", "kind": "pipe", "at": got[1]["center"], "size": '2"'})
    return bool(got)


def words_for_a_length(data: dict[str, Any], rng: random.Random) -> bool:
    rng.choice(data["faces"])["width"] = rng.choice(("twelve feet", "12' 6' 3\"", "", "1e9 mi", [1, 2], {"a": 1}, None))
    return True


SPOILERS: tuple[Spoiler, ...] = (
    opening_outside, opening_below, openings_overlap, negative_size, negative_width, zones_overlap, unknown_product,
    unknown_assembly, unknown_name, nothing_there, upside_down, repeated_face, lap_wider_than_the_roll,
    tape_that_does_not_close, penetration_in_an_opening, words_for_a_length,
)  # fmt: skip


def test_a_broken_house_is_told() -> None:
    """Each way to spoil a valid house gives a finding that stops the job, and no other error."""
    rng = random.Random(11)
    seen: Counter[str] = Counter()
    for n in range(BROKEN):
        spoil = SPOILERS[n % len(SPOILERS)]
        for seed in (rng.randrange(1000) for _ in range(40)):
            data = yaml.safe_load(random_house(seed, small=True).text)
            if spoil(data, rng):
                break
        else:
            raise AssertionError(f"no house for {spoil.__name__}")
        text = yaml.safe_dump(data, sort_keys=False)
        try:
            findings = tuple(plan_of_text(text).findings)
        except BadJob as bad:
            findings = bad.findings
        assert any(f.level == "stop" for f in findings), f"{spoil.__name__} on seed {seed}"
        for finding in findings:
            told(finding)
        seen[spoil.__name__] += 1
    assert set(seen) == {s.__name__ for s in SPOILERS}
