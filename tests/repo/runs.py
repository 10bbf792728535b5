"""Running the program as people do: the installed command, in a process of its own."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
EXAMPLES = sorted(p.parent.name for p in (ROOT / "examples").glob("*/house.yaml"))
COMMAND = Path(sys.executable).with_name("lapwright")


def lapwright(*args: object, cwd: Path | None = None, **env: str) -> subprocess.CompletedProcess[str]:
    """Run the command and return what it printed and its exit status."""
    return subprocess.run(
        [str(COMMAND), *map(str, args)], cwd=cwd, env={**os.environ, **env}, capture_output=True, text=True, timeout=300
    )


def python(code: str, *args: object) -> str:
    """Run code in a new Python and return what it printed; fails with what it said on standard error."""
    done = subprocess.run([sys.executable, "-c", code, *map(str, args)], capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr
    return done.stdout


def digest(folder: Path) -> dict[str, str]:
    """Return the hash of every file under a folder by its name in it; empty when there is no folder."""
    return {
        p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(folder.rglob("*"))
        if p.is_file()
    }


def tracked(*patterns: str) -> list[Path]:
    """Return the files that belong to the repository, by git; all but what .gitignore leaves out when there is no git."""
    done = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard", "--", *patterns],
        cwd=ROOT,
        capture_output=True,
        text=True,
    )
    return [ROOT / name for name in done.stdout.split("\0") if name and (ROOT / name).is_file()]
