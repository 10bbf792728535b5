"""What is imported where: the floors, the declared libraries, and no heavy library for a light command."""

from __future__ import annotations

import ast
import sys
import tomllib
from importlib import metadata
from pathlib import Path

import pytest
from importlinter.cli import EXIT_STATUS_SUCCESS, lint_imports
from runs import ROOT, python

HEAVY = ("highspy", "scipy", "typst", "ezdxf", "xlsxwriter", "pandas", "networkx", "matplotlib", "pint")
PAPER = ("typst", "ezdxf", "xlsxwriter")
EXAMPLE = str(ROOT / "examples" / "one-face")
RUN = """
import sys
from lapwright.cli.app import main
try:
    main(sys.argv[2:])
except SystemExit as end:
    status = end.code
print()
print(sorted({m.partition(".")[0] for m in sys.modules} & set(sys.argv[1].split(","))))
sys.exit(status)
"""


@pytest.mark.parametrize(
    "args, unused",
    [
        (["--help"], (*HEAVY, "numpy", "shapely", "pydantic", "yaml")),
        (["--version"], (*HEAVY, "numpy", "shapely", "yaml")),
        (["survey", EXAMPLE], HEAVY),
        (["check", EXAMPLE], (*PAPER, "scipy", "pandas", "networkx")),
        (["cuts", EXAMPLE], (*PAPER, "scipy", "pandas", "networkx")),
        (["order", EXAMPLE], (*PAPER, "scipy", "pandas", "networkx")),
    ],
    ids=lambda value: value[0] if isinstance(value, list) else "",
)
def test_a_command_loads_no_library_that_it_does_not_use(args: list[str], unused: tuple[str, ...]) -> None:
    assert python(RUN, ",".join(unused), *args).splitlines()[-1] == "[]"


def test_the_floors_hold(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    assert lint_imports(config_filename="pyproject.toml", no_cache=True) == EXIT_STATUS_SUCCESS


def test_every_package_stands_on_a_floor() -> None:
    config = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]
    floors = {part.strip(" ()") for c in config["contracts"] for row in c.get("layers", []) for part in row.split(":")}
    there = {p.stem for p in (ROOT / "src" / "lapwright").iterdir() if p.stem[0].isalpha() and p.suffix in ("", ".py")}
    assert {f"lapwright.{name}" for name in there} <= floors


def _imported(folder: Path) -> set[str]:
    """Return the libraries that the modules under a folder import, at the top or inside a function."""
    found: set[str] = set()
    for path in folder.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {alias.name.partition(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
                found.add(node.module.partition(".")[0])
    return found - set(sys.stdlib_module_names) - {"lapwright"}


def test_the_declared_libraries_are_those_that_the_code_uses() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    extras = [d for name, more in project["optional-dependencies"].items() if name != "dev" for d in more]
    declared = {d.partition(">")[0].lower() for d in [*project["dependencies"], *extras]}
    dists = metadata.packages_distributions()
    used = {dists[name][0].lower() for name in _imported(ROOT / "src")}
    own_half = {"pydantic_core", "pydantic-core"}  # pydantic's, and pinned by it
    by_files = {"font-source-sans-pro"}  # its files are read, see packet/pages.py
    assert used - own_half | by_files == declared
