"""Whatever moment the program is killed at, the packet's folder holds a whole packet: the old one or the new one."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path
from random import Random

import pytest
from runs import COMMAND, ROOT, digest, lapwright, python

from lapwright.packet.exchange import exchange

SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
NOTES = "my notes.txt"  # a file of the user's own, in the packet's folder

# Writes the packet of argv[1]/plan.json to argv[2] in a forked process that kills itself just before its change
# number argv[3] of the file tree (0: never). Prints all changes of a whole run. Python tells of each before it happens.
WRITER = """
import json, os, signal, sys
os.environ["LAPWRIGHT_ONE_PROCESS"] = "1"  # every change is then made, and counted, here
from pathlib import Path
from lapwright.packet import write

doc, out, fatal = json.loads(Path(sys.argv[1], "plan.json").read_text()), Path(sys.argv[2]), int(sys.argv[3])
CHANGES = {"os.rename", "os.link", "os.mkdir", "os.rmdir", "os.remove", "os.chmod", "shutil.copyfile", "ctypes.dlsym"}
done = []
def watch(event, args):
    if event in CHANGES or event == "open" and isinstance(args[2], int) and args[2] & (os.O_WRONLY | os.O_RDWR):
        done.append(event)
        if len(done) == fatal:
            os.kill(os.getpid(), signal.SIGKILL)
sys.addaudithook(watch)
write(doc, out)
print(*done)
"""


@pytest.fixture(scope="module")
def packets(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a small job and its packets before (`old`) and after (`new`) a change of it."""
    folder = tmp_path_factory.mktemp("killed")
    job = folder / "job"
    shutil.copytree(ROOT / "examples" / "one-face", job, ignore=shutil.ignore_patterns("packet"))
    house = job / "house.yaml"
    text = house.read_text()
    house.write_text(text.replace("left: 3' 2\"", "left: 4' 2\""))
    assert lapwright("packet", job, "--out", folder / "old").returncode == 0
    house.write_text(text)
    assert lapwright("packet", job, "--out", folder / "new").returncode == 0
    for name in ("old", "new"):
        (folder / name / NOTES).write_text("call the inspector")
    assert digest(folder / "old") != digest(folder / "new")
    return folder


def state(packets: Path) -> str:
    """Return which packet lies in the job's folder, whole and with the user's notes; fail when it is neither."""
    there = digest(packets / "job" / "packet")
    for name in ("old", "new"):
        if there == digest(packets / name):
            return name
    pytest.fail(f"neither the old packet nor the new: {sorted(there)}")


def put_back(packets: Path) -> None:
    """Lay the old packet in the job's folder and clear what killed runs left beside it."""
    for path in (packets / "job").iterdir():
        if path.is_dir():
            shutil.rmtree(path)
    shutil.copytree(packets / "old", packets / "job" / "packet")


def test_killed_at_every_change_of_the_swap_and_at_some_before(packets: Path) -> None:
    out = packets / "job" / "packet"
    put_back(packets)
    changes = python(WRITER, packets / "new", out, 0).split()
    assert state(packets) == "new"
    last_file = len(changes) - changes[::-1].index("open")  # from here on nothing is written, only moved and removed
    random = Random(7)
    early = random.sample(range(1, last_file), min(2 * SOAK, last_file - 1))
    late = random.sample(range(last_file + 7, len(changes) + 1), min(SOAK, len(changes) - last_file - 7))
    seen = []
    for fatal in [*sorted(early), *range(last_file + 1, last_file + 7), *sorted(late)]:
        put_back(packets)
        command = [sys.executable, "-c", WRITER, str(packets / "new"), str(out), str(fatal)]
        assert subprocess.run(command, capture_output=True).returncode == -signal.SIGKILL
        seen.append(state(packets))
    assert seen == sorted(seen, reverse=True) and set(seen) == {"old", "new"}


def test_killed_at_random_moments(packets: Path) -> None:
    put_back(packets)
    start = time.monotonic()
    assert lapwright("packet", packets / "job").returncode == 0
    whole_s = time.monotonic() - start
    assert state(packets) == "new"
    random = Random(11)
    for _ in range(3 * SOAK):
        put_back(packets)
        command = [str(COMMAND), "packet", str(packets / "job")]
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(random.uniform(0.3, 1.0) * whole_s)
        process.kill()
        process.wait()
        state(packets)


def test_two_folders_change_names(tmp_path: Path) -> None:
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "file").write_text(name)
    if not exchange(tmp_path / "one", tmp_path / "two"):
        pytest.skip("this system cannot exchange two folders in one step")
    assert (tmp_path / "one" / "file").read_text() == "two" and (tmp_path / "two" / "file").read_text() == "one"
    with pytest.raises(FileNotFoundError):
        exchange(tmp_path / "one", tmp_path / "gone")
    assert (tmp_path / "one" / "file").read_text() == "two"
