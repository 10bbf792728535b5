"""Timing: medians of a few runs, processes with their peak memory, and the peer that every time is divided by."""

from __future__ import annotations

import math
import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

import shapely

ROOT = Path(__file__).parents[1]
COMMAND = Path(sys.executable).with_name("lapwright")
PEER = f"shapely {shapely.__version__}: one union of 6000 disks of 32 corners that overlap their neighbors"


@dataclass(frozen=True)
class Took:
    """Seconds on the wall, and of processor time, copies of the process included: ratios use the latter, which other
    programs here disturb less."""

    wall_s: float
    cpu_s: float


def took(work: Callable[[], object]) -> Took:
    """Time one run in this process."""
    wall, cpu = time.perf_counter(), _cpu()
    work()
    return Took(time.perf_counter() - wall, _cpu() - cpu)


def _cpu() -> float:
    done = os.times()
    return done.user + done.system + done.children_user + done.children_system


def middle(runs: Iterable[Took]) -> Took:
    """Return the medians of several runs."""
    some = list(runs)
    return Took(statistics.median(r.wall_s for r in some), statistics.median(r.cpu_s for r in some))


def median(work: Callable[[], object], runs: int = 3) -> Took:
    """Return the medians of `runs` runs in this process."""
    return middle(took(work) for _ in range(runs))


def peer() -> Took:
    """Time the peer's fixed work: a union of disks on a spiral, the same every time."""
    turn = math.pi * (3 - math.sqrt(5))  # sunflower: even cover without a grid's special positions
    points = [(math.sqrt(i) * math.cos(i * turn), math.sqrt(i) * math.sin(i * turn)) for i in range(6000)]
    disks = shapely.buffer(shapely.points(points), 1.5, quad_segs=8)
    made: list[float] = []
    seconds = took(lambda: made.append(shapely.union_all(disks).area))
    assert math.isclose(made[0], math.pi * (math.sqrt(6000) + 1.5) ** 2, rel_tol=0.05)  # the disks leave no holes
    return seconds


@dataclass(frozen=True)
class Ran:
    """One process: its times from start to end, and the most memory that it held at once."""

    took: Took
    peak_mb: float


def ran(*args: object, cache: Path | None = None) -> Ran:
    """Run the installed command; RuntimeError when it does not end with 0 or 1. cache: where it keeps results, None: nowhere."""
    start = time.perf_counter()
    env = {**os.environ, "LAPWRIGHT_CACHE": str(cache or "off")}
    command = [str(COMMAND), *map(str, args)]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=env)
    _, status, usage = os.wait4(process.pid, 0)
    wall = time.perf_counter() - start
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode not in (0, 1):
        raise RuntimeError(f"{' '.join(map(str, args))} ended with {process.returncode}")
    peak = usage.ru_maxrss / (1024 if sys.platform == "linux" else 1024 * 1024)
    return Ran(Took(wall, usage.ru_utime + usage.ru_stime), peak)
