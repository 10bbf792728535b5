"""A job's own rules: over the built-in ones, allowed on somebody's word, refused with their line; and the page on all of it."""

from __future__ import annotations

import os
import random
import re
from pathlib import Path
from typing import Any

import pytest
import yaml
from compat_jobs import house, layers, stands

from lapwright import catalog
from lapwright.catalog.model import Catalog
from lapwright.catalog.notebook import read
from lapwright.compatible import rules
from lapwright.compatible.page import renewed
from lapwright.compatible.rules import builtin
from lapwright.findings import BadJob
from lapwright.plan.load import open_plan

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "compatibility.md").read_text(encoding="utf-8")
SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
OWN: dict[str, Any] = {
    "between": "on-wall", "a": {"adhesive": "acrylic"}, "b": {"stuff": "osb"}, "verdict": "stop", "why": "It peeled on the last job.",
    "fix": "Prime it.", "source": "own record",
}  # fmt: skip


def on_osb(rule_id: str, **changes: Any) -> set[tuple[str, str]]:
    sheets = {"compatibility": {rule_id: {**OWN, **changes}}}
    made = house(sheets, layers(stands("osb")))
    return {(f.code, f.level) for f in made.findings if f.code.startswith("compatible.")}


def test_a_rule_of_the_job_stands_beside_the_built_in_ones() -> None:
    assert on_osb("our-osb") == {("compatible.our_osb", "stop"), ("compatible.acrylic_on_osb", "note")}


def test_a_rule_of_the_same_name_takes_the_place_of_the_built_in_one() -> None:
    assert on_osb("acrylic-on-osb", verdict="warn") == {("compatible.acrylic_on_osb", "warn")}


def test_an_allowed_pair_is_a_note_with_whose_word_it_is_and_quiets_the_others() -> None:
    sheets = {"compatibility": {"our-osb": {**OWN, "verdict": "allow"}}}
    found = [f for f in house(sheets, layers(stands("osb"))).findings if f.code.startswith("compatible.")]
    assert {(f.code, f.level, f.source) for f in found} == {("compatible.our_osb", "note", "own record")}
    assert all(f.what.startswith("Allowed by the job's catalog.yaml") for f in found)


def test_products_beside_the_rules_still_count() -> None:
    made = house({"compatibility": {"our-osb": OWN}, "self-adhered-sheet": {"width": "4 ft"}})
    assert made.catalog["self-adhered-sheet"].needed("width_m") == pytest.approx(1.2192)
    assert "compatibility" not in made.catalog


BAD = {
    "no map": ("compatibility: [a, b]", 1, "list of rules"),
    "a bare word": ("compatibility: yes", 1, "list of rules"),
    "no lines": ("compatibility:\n  my-rule: osb", 2, "no lines"),
    "a bad name": ("compatibility:\n  My Rule!: {between: on-wall}", 2, "no name for a rule"),
    "an unknown line": ("compatibility:\n  r:\n    between: on-wall\n    betwen: on", 4, "Did you mean 'between'"),
    "an unknown between": ("compatibility:\n  r:\n    between: under", 3, "touching, over, on-wall"),
    "an unknown trait": ("compatibility:\n  r:\n    a: {stuf: osb}", 3, "Did you mean 'stuff'"),
    "an empty side": ("compatibility:\n  r:\n    between: on-wall\n    a: {}", 4, "does not say what a is"),
    "a nested word": ("compatibility:\n  r:\n    a: {stuff: {osb: yes}}", 3, "a word or a list of words"),
    "a second thing in a season": ("compatibility:\n  r:\n    between: season\n    b: {stuff: osb}", 4, "one thing"),
    "a limit where none belongs": ("compatibility:\n  r:\n    between: on-wall\n    limit: face", 4, "limit belongs"),
    "no source": ("compatibility:\n  r: {between: on-wall, a: {stuff: osb}, b: {stuff: osb}, verdict: note, why: w, fix: f}", 2, "no source"),
}


@pytest.mark.parametrize("case", BAD)
def test_a_rule_that_does_not_read_stops_the_job_with_its_line(case: str, tmp_path: Path) -> None:
    text, line, words = BAD[case]
    (tmp_path / "house.yaml").write_text("job: Test House\n", encoding="utf-8")
    (tmp_path / "catalog.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(BadJob) as caught:
        open_plan(tmp_path)
    said = [f for f in caught.value.findings if words in f.what or words in f.fix]
    assert said, caught.value.findings
    assert said[0].code == "compatible.bad_rule" and said[0].where.file == "catalog.yaml" and said[0].where.line == line
    assert all(f.fix for f in caught.value.findings)


def test_an_empty_block_is_no_rule(tmp_path: Path) -> None:
    (tmp_path / "catalog.yaml").write_text("compatibility:\n", encoding="utf-8")
    assert rules(catalog.load(tmp_path)[0]) == list(builtin())


def test_whatever_stands_there_it_reads_or_is_told() -> None:
    rng = random.Random(11)
    words: list[Any] = ["on-wall", "on", "osb", "stop", "", None, 3, True, [], {}, ["a", ["b"]], {"stuff": "osb"}, "allow", "season", "hot"]
    names = ["between", "a", "b", "verdict", "limit", "why", "fix", "source", "stuff", "x"]
    read_well = 0
    for _ in range(400 * SOAK):
        row = {rng.choice(names): rng.choice(words) for _ in range(rng.randrange(0, 9))}
        if rng.random() < 0.3:
            row = {**OWN, **dict(list(row.items())[:1])}
        text = yaml.safe_dump({rng.choice(["r", "R 1", "our-osb"]): rng.choice([row, row, row, rng.choice(words)])})
        try:
            rules(Catalog({}, read(text, "catalog.yaml")))
            read_well += 1
        except BadJob as bad:
            assert all((f.code == "compatible.bad_rule" or f.code.startswith("file.")) and f.where.line for f in bad.findings)
    assert read_well > 10


# ---------------------------------------------------------------- the page


def test_the_page_lists_the_rules_as_they_are() -> None:
    assert renewed(PAGE) == PAGE, "run: python -m lapwright.compatible.page docs/compatibility.md"


def test_the_example_on_the_page_reads_and_does_what_it_says(tmp_path: Path) -> None:
    (example,) = re.findall(r"```yaml\n(.*?)```", PAGE, re.DOTALL)
    (tmp_path / "catalog.yaml").write_text(example, encoding="utf-8")
    known, said = catalog.load(tmp_path)
    assert said == []
    own = [r for r in rules(known) if r.own]
    assert [r.id for r in own] == ["acrylic-on-osb", "my-tape-on-my-coat"]
    made = house(yaml.safe_load(example), layers(stands("osb")))
    codes = {f.code: f.level for f in made.findings if f.code.startswith("compatible.")}
    assert codes == {"compatible.acrylic_on_osb": "note", "compatible.my_tape_on_my_coat": "warn"}


def test_every_trait_and_kind_of_pair_is_told() -> None:
    from lapwright.compatible.rules import BETWEEN
    from lapwright.compatible.things import TRAITS

    for word in (*BETWEEN, *TRAITS):
        assert f"`{word}`" in PAGE, word
