"""Exit statuses as people's scripts see them: 0 fine, 1 stop, 2 unreadable job, 3 wrong command line."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from runs import COMMAND, ROOT, digest, lapwright

READ_ONLY = ["survey", "check", "cuts", "order"]
HOUSE = (ROOT / "examples" / "one-face" / "house.yaml").read_text(encoding="utf-8")

RING = """
job: Ring
faces:
  - {id: south, width: 30', turn: 90, height: 9', decision: remove, assembly: skin}
  - {id: east, width: 20', turn: 90, height: 9', decision: keep}
  - {id: north, width: NORTH, turn: 90, height: 9', decision: keep}
  - {id: west, width: 20', turn: 90, height: 9', decision: keep}
loops:
  main: {closed: yes}
assemblies:
  skin:
    - {layer: barrier, product: self-adhered-sheet}
"""


def changed(old: str, new: str) -> str:
    """Return the small job with one thing changed; fails when there is nothing to change."""
    assert old in HOUSE
    return HOUSE.replace(old, new, 1)


# What makes a job unreadable, and a word that the finding must hold so that the mend is plain.
BAD = {
    "not YAML": ("faces: [", "house.yaml"),
    "a text for a width": (changed("width: 18'", "width: wide"), "wide"),
    "a unit nobody knows": (changed("width: 18'", "width: 18 furlongs"), "furlongs"),
    "a name nobody knows": (changed("decision: remove", "decision: discard"), "discard"),
    "a key nobody knows": (changed("decision: remove", "descision: remove"), "descision"),
    "a product nobody knows": (changed("product: mesh-mat", "product: mash-mat"), "mash-mat"),
    "an assembly nobody knows": (changed("assembly: new-skin", "assembly: no-skin"), "no-skin"),
    "an opening off its face": (changed("left: 11' 6\"", "left: 17'"), "w2"),
    "openings that overlap": (changed("left: 11' 6\"", "left: 5'"), "w2"),
    "one id twice": (changed("id: w2", "id: w1"), "w1"),
    "a cycle of references": ("job: &a\n  job: *a\n", "house.yaml"),
    "nothing at all": ("", "house.yaml"),
}


def written(folder: Path, text: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "house.yaml").write_text(text, encoding="utf-8")
    return folder


def old_packet(job: Path) -> dict[str, str]:
    """Put something in the place of an old packet and return its hashes."""
    for name in ("packet.pdf", "plan.json", "surfaces/yard-barrier.svg"):
        (job / "packet" / name).parent.mkdir(parents=True, exist_ok=True)
        (job / "packet" / name).write_text("old")
    return digest(job)


@pytest.mark.parametrize("command", READ_ONLY)
def test_a_sound_job_gives_0_and_is_left_as_it_is(command: str, tmp_path: Path) -> None:
    job = written(tmp_path / "job", HOUSE)
    before = digest(tmp_path)
    assert lapwright(command, job).returncode == 0
    assert lapwright(command, job / "house.yaml").returncode == 0
    assert digest(tmp_path) == before


@pytest.mark.parametrize("command", ["survey", "check", "packet"])
def test_a_stop_gives_1_says_so_and_still_writes(command: str, tmp_path: Path) -> None:
    sound = written(tmp_path / "sound", RING.replace("NORTH", "30'"))
    assert lapwright(command, sound).returncode == 0
    open_ring = written(tmp_path / "open", RING.replace("NORTH", "27'"))
    done = lapwright(command, open_ring)
    assert done.returncode == 1, done.stdout + done.stderr
    assert "STOP" in done.stdout
    if command == "packet":
        assert "DO NOT BUILD" in done.stdout
        plan = json.loads((open_ring / "packet" / "plan.json").read_text(encoding="utf-8"))
        assert [f for f in plan["findings"] if f["level"] == "stop"]
        assert (open_ring / "packet" / "packet.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize("what", BAD)
def test_a_job_that_cannot_be_read_gives_2_and_an_old_packet_stays(what: str, tmp_path: Path) -> None:
    text, word = BAD[what]
    job = written(tmp_path / "job", text)
    before = old_packet(job)
    done = lapwright("packet", job)
    assert done.returncode == 2, done.stdout + done.stderr
    assert done.stdout == "" and "Traceback" not in done.stderr
    assert word in done.stderr and re.search(r"house\.yaml( line \d+)?", done.stderr)
    assert digest(job) == before


@pytest.mark.parametrize("command", READ_ONLY)
def test_every_command_gives_2_with_file_line_and_mend(command: str, tmp_path: Path) -> None:
    job = written(tmp_path / "job", BAD["an opening off its face"][0])
    done = lapwright(command, job, "--json")
    assert done.returncode == 2
    findings = json.loads(done.stdout)["findings"]
    line = 1 + next(n for n, row in enumerate(BAD["an opening off its face"][0].splitlines()) if "left: 17'" in row)
    assert findings[0]["where"]["file"] == "house.yaml" and findings[0]["where"]["line"] == line
    assert all(f["level"] == "stop" and f["what"] and f["fix"] for f in findings)


@pytest.mark.parametrize("command", [*READ_ONLY, "packet"])
def test_no_job_there_gives_2(command: str, tmp_path: Path) -> None:
    for path in (tmp_path / "nowhere", tmp_path):
        done = lapwright(command, path)
        assert done.returncode == 2 and "STOP" in done.stderr and "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "args",
    [
        ["dig"],
        ["survey"],
        ["survey", "a", "b"],
        ["--loud"],
        ["packet", ".", "--out"],
        ["check", ".", "--jsn"],
        ["compare", "."],
    ],
    ids=" ".join,
)
def test_a_wrong_command_line_gives_3_and_says_what_is_wrong(args: list[str], tmp_path: Path) -> None:
    done = lapwright(*args, cwd=written(tmp_path / "job", HOUSE))
    assert done.returncode == 3
    assert ("Usage" in done.stderr or "Error" in done.stderr) and "Traceback" not in done.stderr
    assert [p.name for p in (tmp_path / "job").iterdir()] == ["house.yaml"]


def test_a_packet_that_cannot_be_written_is_told_and_harms_nothing(tmp_path: Path) -> None:
    job = written(tmp_path / "job", HOUSE)
    (tmp_path / "file").write_text("mine")
    done = lapwright("packet", job, "--out", tmp_path / "file")
    assert done.returncode == 2 and "STOP" in done.stderr
    assert (tmp_path / "file").read_text() == "mine" and not (job / "packet").exists()


def test_compare_gives_2_for_what_is_no_plan(tmp_path: Path) -> None:
    job = written(tmp_path / "job", HOUSE)
    (tmp_path / "plan.json").write_text("[1, 2]")
    for bad in (tmp_path / "plan.json", tmp_path / "gone.json"):
        done = lapwright("compare", job, bad)
        assert done.returncode == 2 and bad.name in done.stderr and "Traceback" not in done.stderr


BREAK = """
import sys
import lapwright.plan.load
from lapwright.cli.app import main
def broken(*args, **more):
    raise ZeroDivisionError("a rafter too few")
lapwright.plan.load.open_plan = broken
main(sys.argv[1:])
"""


@pytest.mark.parametrize("command", ["check", "packet"])
def test_a_fault_of_the_program_gives_70_and_says_whose_it_is(command: str, tmp_path: Path) -> None:
    job = written(tmp_path / "job", HOUSE)
    before = old_packet(job)
    plain = subprocess.run([sys.executable, "-c", BREAK, command, str(job)], capture_output=True, text=True)
    assert plain.returncode == 70 and plain.stdout == ""
    assert "our fault" in plain.stderr and "a rafter too few" in plain.stderr and "Traceback" not in plain.stderr
    asked = subprocess.run(
        [sys.executable, "-c", BREAK, command, str(job)],
        capture_output=True, text=True, env={**os.environ, "LAPWRIGHT_TRACEBACK": "1"},
    )  # fmt: skip
    assert asked.returncode == 70 and "Traceback" in asked.stderr and "our fault" in asked.stderr
    assert digest(job) == before


def test_a_detail_of_the_jobs_own_that_breaks_down_gives_2_with_its_line(tmp_path: Path) -> None:
    own = "from lapwright.details.base import Detail\n\n\nclass Bad(Detail):\n    name = 'bad'\n"
    own += "    places = tuple(('opening', s) for s in ('before', 'after', 'kept', 'insert'))\n\n    def claims(self, place, ctx):\n        return [1 / 0]\n"
    job = written(tmp_path / "job", HOUSE + "\nown_details: [bad.py]\n")
    (job / "bad.py").write_text(own)
    before = old_packet(job)
    done = lapwright("packet", job, "--own-details")
    assert done.returncode == 2 and "bad.py line 9" in done.stderr and "Traceback" not in done.stderr
    assert digest(job) == before


def test_output_into_a_closed_pipe_ends_quietly() -> None:
    command = f"'{COMMAND}' cuts '{ROOT}/examples/one-face' --json | head -n 1"
    done = subprocess.run(command, shell=True, capture_output=True, text=True)
    assert done.stdout == "{\n" and "Error" not in done.stderr and "Traceback" not in done.stderr
