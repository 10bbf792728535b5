"""The built wheel works with the sources away and with nothing installed but what requirements.txt locks."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import sysconfig
import venv
import zipfile
from importlib import metadata
from pathlib import Path

import pytest
from runs import ROOT, digest, tracked


def built_wheel(folder: Path) -> Path:
    """Build the wheel from a copy of what belongs to the repository, with the locked build tool; return its path."""
    copy = folder / "copy"
    for path in tracked("src", "pyproject.toml", "README.md", "LICENSE", "NOTICE"):
        target = copy / path.relative_to(ROOT)
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(path, target)
    command = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation", "--no-index"]
    subprocess.run([*command, "-w", str(folder), str(copy)], check=True, capture_output=True)
    return next(folder.glob("lapwright-*.whl"))


def only_core(site: Path) -> None:
    """Link into `site` the packages that requirements.txt locks, as they are installed here, and no other."""
    names = set(re.findall(r"^([a-z0-9-]+)==", (ROOT / "requirements.txt").read_text(), re.M))
    for name in sorted(names):
        try:
            files = metadata.distribution(name).files or []
        except metadata.PackageNotFoundError:
            assert name == "colorama"  # locked for one platform only
            continue
        for top in {f.parts[0] for f in files if f.parts[0] not in ("..", "__pycache__")}:
            (site / top).symlink_to(Path(sysconfig.get_path("purelib")) / top)


@pytest.fixture(scope="session")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a throwaway environment that holds the wheel and the core libraries."""
    folder = tmp_path_factory.mktemp("wheel")
    home = folder / "env"
    venv.create(home, with_pip=False, symlinks=True)
    python = home / "bin" / "python"
    site = next((home / "lib").glob("python3.*/site-packages"))
    only_core(site)
    wheel = built_wheel(folder)
    pip = [sys.executable, "-m", "pip", "--python", str(python), "install", "--quiet", "--no-deps", "--no-index"]
    subprocess.run([*pip, str(wheel)], check=True, capture_output=True)
    shutil.rmtree(folder / "copy")
    return home


def run(home: Path, *args: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    env = {k: v for k, v in os.environ.items() if not k.startswith("PYTHON")}
    return subprocess.run([*args], cwd=cwd, env=env, capture_output=True, text=True, timeout=300)


def test_the_wheel_holds_every_module_and_data_file(installed: Path) -> None:
    with zipfile.ZipFile(next(installed.parent.glob("*.whl"))) as wheel:
        names = set(wheel.namelist())
    for path in tracked("src"):
        assert path.relative_to(ROOT / "src").as_posix() in names
    assert any(n.endswith("/LICENSE") for n in names) and any(n.endswith("/NOTICE") for n in names)


def test_a_packet_comes_from_the_wheel_alone(installed: Path, tmp_path: Path) -> None:
    shutil.copytree(ROOT / "examples" / "one-face", tmp_path / "job", ignore=shutil.ignore_patterns("packet"))
    where = run(
        installed, str(installed / "bin" / "python"), "-c", "import lapwright; print(lapwright.__file__)", cwd=tmp_path
    )
    assert Path(where.stdout.strip()).is_relative_to(installed), where.stderr
    done = run(installed, str(installed / "bin" / "lapwright"), "packet", "job", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    names = set(digest(tmp_path / "job" / "packet"))
    assert {"packet.pdf", "plan.json", "order.csv", "order.xlsx"} <= names
    plan = json.loads((tmp_path / "job" / "packet" / "plan.json").read_text(encoding="utf-8"))
    assert plan["pieces"] and plan["cuts"]


def test_no_library_of_the_tests_is_there(installed: Path, tmp_path: Path) -> None:
    code = (
        "import importlib.util as u; print([n for n in ('pytest', 'hypothesis', 'networkx', 'mypy') if u.find_spec(n)])"
    )
    assert run(installed, str(installed / "bin" / "python"), "-c", code, cwd=tmp_path).stdout == "[]\n"
