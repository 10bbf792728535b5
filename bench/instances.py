"""The packing kernel on published one-dimensional instances, beside a plain rule and a general integer program."""

from __future__ import annotations

import csv
import statistics
import time
from collections import Counter
from dataclasses import dataclass

import numpy as np
import scipy.sparse
from scipy.optimize import Bounds, LinearConstraint, milp

from bench.timing import ROOT
from lapwright.cuts.pack1d import pack_bins

DATA = ROOT / "tests" / "outside" / "data" / "cutting" / "falkenauer.csv"
PROGRAM = "scipy.optimize.milp on the arc-flow model"
NODES = 2000  # of the peer's search tree, so that the bench ends


@dataclass(frozen=True)
class Instance:
    """One published instance: whole sizes, capacity, least number of bins."""

    name: str
    capacity: int
    best: int
    sizes: list[int]


@dataclass(frozen=True)
class Score:
    """How many of `count` instances ended with the least number of bins, and the seconds of each."""

    count: int
    optimal: int
    seconds: list[float]

    @property
    def median(self) -> float:
        """Median seconds of an instance."""
        return statistics.median(self.seconds)


def published() -> list[Instance]:
    """Return the instances of tests/outside/data/cutting in file order."""
    with DATA.open(encoding="utf-8") as file:
        rows = csv.DictReader(line for line in file if not line.startswith("#"))
        return [
            Instance(r["instance"], int(r["capacity"]), int(r["best_known"]), [int(s) for s in r["sizes"].split()])
            for r in rows
        ]


def first_fit_decreasing(sizes: list[int], capacity: int) -> int:
    """Return the number of bins of the plain rule: largest first, into the first bin that takes it."""
    room: list[int] = []
    for size in sorted(sizes, reverse=True):
        for i, free in enumerate(room):
            if size <= free:
                room[i] -= size
                break
        else:
            room.append(capacity - size)
    return len(room)


def arc_flow(sizes: list[int], capacity: int) -> int | None:
    """Return the number of bins by an integer program over positions 0..capacity; None when it does not finish.

    Source: J. M. Valerio de Carvalho, Annals of Operations Research 86 (1999). An arc is an item laid from one
    position to a later one, or loss; bins are paths from 0 to capacity.
    """
    demand = Counter(sizes)
    arcs = [(i, i + s, s) for s in sorted(demand, reverse=True) for i in range(capacity - s + 1)]
    arcs += [(i, i + 1, 0) for i in range(capacity)]
    n = len(arcs)
    tail, head, size = (np.array([a[k] for a in arcs]) for k in range(3))
    flow = scipy.sparse.csr_array((np.ones(n), (head, np.arange(n))), shape=(capacity + 1, n))
    flow = flow - scipy.sparse.csr_array((np.ones(n), (tail, np.arange(n))), shape=(capacity + 1, n))
    order = sorted(demand)
    uses = scipy.sparse.csr_array([(size == s).astype(float) for s in order])
    through = np.zeros(n)
    through[tail == 0] = 1.0
    inside = LinearConstraint(flow[1:capacity], 0, 0)
    served = LinearConstraint(uses, [demand[s] for s in order], np.inf)
    done = milp(
        through,
        integrality=np.ones(n),
        bounds=Bounds(0, len(sizes)),
        constraints=[inside, served],
        options={"node_limit": NODES, "time_limit": 20.0},
    )
    return round(done.fun) if done.status == 0 else None


def score(instances: list[Instance], work: object) -> Score:
    """Run `work(sizes, capacity)` over instances; it returns a number of bins or None."""
    optimal, seconds = 0, []
    for x in instances:
        start = time.perf_counter()
        bins = work(x.sizes, x.capacity)  # type: ignore[operator]
        seconds.append(time.perf_counter() - start)
        optimal += bins == x.best
    return Score(len(instances), optimal, seconds)


def kernel(sizes: list[int], capacity: int) -> int:
    """Return the number of bins of this program's kernel, after checking that every bin holds what it may."""
    bins = pack_bins(sizes, capacity).bins
    assert sorted(i for b in bins for i in b) == list(range(len(sizes)))
    assert all(sum(sizes[i] for i in b) <= capacity for b in bins)
    return len(bins)
