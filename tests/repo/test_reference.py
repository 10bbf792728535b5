"""The documents say what the command line does: nothing undocumented, nothing documented that is not there."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from reference import command_table, keys_of, reference
from runs import ROOT, lapwright, tracked

EXAMPLE = ROOT / "examples" / "one-face"
TABLE = command_table()


def test_commands_md_is_what_the_help_says() -> None:
    said = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
    assert said == reference(), "docs/commands.md is out of date: run `make docs`"


@pytest.mark.parametrize("name", TABLE)
def test_every_command_argument_and_option_says_what_it_is_for(name: str) -> None:
    command: Any = TABLE[name]
    assert len(command.help.split()) >= 3
    for param in command.params:
        assert param.help and len(param.help.split()) >= 3, param.name
    shown = lapwright(name, "--help")
    assert shown.returncode == 0
    for param in command.params:
        words = [p for p in param.opts if p.startswith("--")] or [param.metavar]
        assert all(word in shown.stdout for word in words)


@pytest.mark.parametrize("name", TABLE)
def test_json_holds_the_documented_keys(name: str, tmp_path: Path) -> None:
    more = [EXAMPLE] if name == "compare" else ["--out", tmp_path / "packet"] if name == "packet" else []
    if name == "air":
        demo = ROOT / "examples" / "demo"
        more = [demo / "fan-after.csv", "--before", demo / "fan-before.csv"]
    job = EXAMPLE
    if name == "ifc":
        from ifc_model import house  # its library takes a while to load

        job, more = house(tmp_path / "model.ifc"), ["--out", tmp_path / "job"]
    done = lapwright(name, job, *more, "--json")
    assert done.returncode == 0, done.stderr
    assert list(json.loads(done.stdout)) == keys_of(name)


def test_every_page_and_readme_names_only_commands_and_targets_that_exist() -> None:
    targets = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text(), re.M))
    pages = [p for p in tracked("*.md") if p.name != "CHANGELOG.md"]
    assert pages
    for page in pages:
        text = page.read_text(encoding="utf-8")
        code = "\n".join(re.findall(r"```.*?```|`[^`\n]+`|^    .+$", text, re.S | re.M))
        for name in re.findall(r"(?:bin/|[`$>\s])lapwright ([a-z]+)\b", code):
            assert name in TABLE, f"{page.name}: lapwright {name}"
        for target in re.findall(r"\bmake ([a-z]+)\b", code):
            assert target in targets, f"{page.name}: make {target}"


def test_every_link_between_pages_leads_somewhere() -> None:
    for page in tracked("*.md"):
        for target in re.findall(r"\]\(([^)#\s]+)[^)]*\)", page.read_text(encoding="utf-8")):
            assert "://" in target or (page.parent / target).exists(), f"{page.name}: {target}"


def test_the_readme_leads_to_every_page() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for page in tracked("docs/*.md"):
        assert f"({page.relative_to(ROOT).as_posix()})" in readme, page.name


def test_every_make_target_says_what_it_does() -> None:
    text = (ROOT / "Makefile").read_text()
    named = set(re.findall(r"^([a-z]+):.*## \S", text, re.M))
    phony = set(re.search(r"^\.PHONY: (.*)$", text, re.M)[1].split())  # type: ignore[index]
    assert named == phony >= {"setup", "demo", "test", "soak", "bench", "clean"}
