"""The tree itself: modules of a readable size, docstrings, what never belongs in it, license, locks."""

from __future__ import annotations

import ast
import re
import tomllib
import warnings
from pathlib import Path

import pytest
from runs import ROOT, tracked

LONG, TOO_LONG = 400, 450  # lines; a module fits a screen or five (common practice)
FILES = tracked()
MODULES = [p for p in FILES if p.is_relative_to(ROOT / "src") and p.suffix == ".py"]
LOCKS = [ROOT / "requirements.txt", ROOT / "requirements-dev.txt"]


def lines_of(path: Path) -> list[str]:
    """Return a file's lines; none for a file that is no text."""
    try:
        return path.read_text(encoding="utf-8").splitlines()
    except UnicodeDecodeError:
        return []


def test_there_is_a_tree_to_look_at() -> None:
    assert len(MODULES) > 50 and ROOT / "Makefile" in FILES


def test_no_two_test_files_have_one_name() -> None:
    """The folders of tests are no packages: of two files of one name only the first would be run."""
    names = [p.name for p in FILES if p.match("tests/**/test_*.py")]
    assert sorted(set(names)) == sorted(names) and len(names) > 50


@pytest.mark.filterwarnings("default::UserWarning")
def test_no_module_is_too_long() -> None:
    length = {p.relative_to(ROOT): len(lines_of(p)) for p in MODULES}
    for path, count in length.items():
        if count > LONG:
            warnings.warn(f"{path} has {count} lines", stacklevel=1)
    assert {p: n for p, n in length.items() if n > TOO_LONG} == {}


def silent(tree: ast.Module, classes: dict[str, ast.ClassDef]) -> list[str]:
    """Return what is public in a module and says nothing; a method may leave it to the one that it replaces."""

    def said(owner: ast.ClassDef) -> set[str]:
        above = [classes[b.id] for b in owner.bases if isinstance(b, ast.Name) and b.id in classes]
        own = {m.name for m in owner.body if isinstance(m, ast.FunctionDef) and ast.get_docstring(m)}
        return own.union(*map(said, above))

    def missing(owner: ast.Module | ast.ClassDef, known: set[str]) -> list[str]:
        names = [n for n in owner.body if isinstance(n, ast.FunctionDef | ast.ClassDef) and n.name[0] != "_"]
        names = [n for n in names if ast.unparse(n.body[-1]) != "..."]  # what a protocol asks for speaks for itself
        return [f"line {n.lineno} {n.name}" for n in names if not ast.get_docstring(n) and n.name not in known]

    found = [] if ast.get_docstring(tree) else ["module"]
    found += missing(tree, set())
    for node in tree.body:
        if isinstance(node, ast.ClassDef) and node.name[0] != "_":
            found += missing(node, said(node))
    return found


def test_every_module_and_everything_public_in_it_says_what_it_is() -> None:
    trees = {str(p.relative_to(ROOT)): ast.parse(p.read_text(encoding="utf-8")) for p in MODULES}
    classes = {c.name: c for tree in trees.values() for c in tree.body if isinstance(c, ast.ClassDef)}
    found = {path: silent(tree, classes) for path, tree in trees.items()}
    assert {path: names for path, names in found.items() if names} == {}


# Put together here so that this file does not hold them itself.
NEVER = {
    "a folder of one machine": r"(?<![\w.~-])/(work|tmp|root|home)" + "/",
    "a package registry": "py" + r"pi\.org|file" + "s.pythonhosted|registry" + r"\.npmjs",
    "how it was made": r"\b(sub" + r"agents?|assist" + r"ants?|chat" + r"bots?)\b|(?<!scope=.)\bsess" + r"ions?\b",
}


@pytest.mark.parametrize("what", NEVER)
def test_no_file_speaks_of(what: str) -> None:
    found = [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()[:100]}"
        for path in FILES
        for number, line in enumerate(lines_of(path), 1)
        if re.search(NEVER[what], line, re.IGNORECASE)
    ]
    assert found == []


def test_no_file_is_large_and_no_generated_file_is_tracked() -> None:
    assert [p for p in FILES if p.stat().st_size > 600_000] == []
    made = {"uv.lock", "poetry.lock", "Pipfile.lock", "package-lock.json", "packet.pdf"}
    assert [p for p in FILES if p.name in made or p.suffix in (".pyc", ".whl")] == []


def test_nothing_that_installs_or_runs_names_an_address() -> None:
    for path in [*LOCKS, ROOT / "Makefile", *tracked(".ci/*")]:
        assert "http" not in path.read_text(), path.name
    for path in LOCKS:
        assert not re.search(r"index|find-links|://|^-|@ ", path.read_text(), re.M), path.name


def pins(path: Path) -> set[str]:
    """Return `name==version ; marker` of every row of a lock; fails on a row without a hash."""
    rows = re.split(r"\n(?=\S)", re.sub(r"^#.*\n", "", path.read_text(), flags=re.M).strip())
    for row in rows:
        assert re.search(r"--hash=sha256:[0-9a-f]{64}", row), row
    return {row.partition(" \\")[0].strip() for row in rows}


def test_the_locks_agree_and_hold_what_the_project_asks() -> None:
    core, dev = map(pins, LOCKS)
    assert core < dev
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    for asked, lock in ((project["dependencies"], core), (project["optional-dependencies"]["dev"], dev)):
        locked = {row.partition("==")[0] for row in lock}
        assert {re.split(r"[>=<]", name)[0].lower() for name in asked} <= locked


def test_license_and_notice_name_what_is_owed() -> None:
    assert "MIT License" in (ROOT / "LICENSE").read_text()
    notice = (ROOT / "NOTICE").read_text(encoding="utf-8")
    data = [p for p in tracked("tests/outside/data") if p.suffix != ".py"]
    assert data
    for path in data:
        assert path.name in notice, f"NOTICE does not say where {path.name} comes from"
