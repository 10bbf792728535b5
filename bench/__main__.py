"""Prints the table of `make bench`."""

from __future__ import annotations

import math
import sys
import tempfile
from pathlib import Path

import numpy as np

from bench import instances
from bench.houses import DEMO, moved, row_house
from bench.timing import PEER, ROOT, Took, median, middle, peer, ran, took
from lapwright.continuity.build import drop_test, surroundings, walls
from lapwright.memo import Memo
from lapwright.plan.document import document
from lapwright.plan.graph import Plan
from lapwright.plan.load import open_plan

MODULES = (3, 7, 15, 31)  # of a row house: 24 to 248 openings


def line(what: str, figure: str, ratio: str = "", target: str = "") -> None:
    """Print one row."""
    print(f"{what:<58} {figure:>16} {ratio:>12}   {target}".rstrip(), flush=True)


def timed(what: str, took: Took, unit: Took, target: str = "") -> None:
    """Print a row with a time and how many times the peer's it is."""
    line(what, f"{took.wall_s:.2f} s", f"{took.cpu_s / unit.cpu_s:.1f} x peer", target)


def ordered(folder: Path, memo: Memo | None = None) -> Plan:
    """Plan a job from its file to its order: survey, pieces, laps, cuts, bid. Nothing is kept but in `memo`."""
    plan = open_plan(folder, memo=memo)
    _ = plan.order
    return plan


def demo(unit: Took) -> None:
    """The demo: as a whole command, in a warm process, and its memory."""
    line("The demo house (12 faces)", "", "", "target")
    warm = median(lambda: ordered(DEMO))
    timed("  survey, pieces, laps, cuts, order; warm", warm, unit, "2 s")
    with tempfile.TemporaryDirectory() as out:
        for command, more in (("survey", ()), ("cuts", ()), ("order", ()), ("packet", ("--out", Path(out) / "p"))):
            runs = [ran(command, DEMO, *more) for _ in range(3)]
            target = {"order": "2 s", "packet": "5 s"}.get(command, "")
            timed(f"  lapwright {command}, whole command, nothing kept", middle(r.took for r in runs), unit, target)
            if command in ("order", "packet"):
                peak = max(r.peak_mb for r in runs)
                line(f"  lapwright {command}, most memory", f"{peak:.0f} MB", "", "500 MB")
                cache = Path(out) / command
                first = ran(command, DEMO, *more, cache=cache)
                again = middle(ran(command, DEMO, *more, cache=cache).took for _ in range(3))
                timed("    the same, and results kept for the next call", first.took, unit)
                timed("    the same again, nothing changed", again, unit)
        kept = Path(out) / "order"
        timed("  lapwright packet after order, nothing changed", ran("packet", DEMO, "--out", Path(out) / "p", cache=kept).took, unit)
        job = moved(Path(out) / "job", 4)
        ran("order", job, cache=kept)
        job = moved(Path(out) / "job", 5)
        timed("  lapwright order after a window moved", ran("order", job, cache=kept).took, unit)


def change(unit: Took) -> None:
    """One window of the demo moved: everything again, in a process that keeps the results of the plan before."""
    memo = Memo()
    ordered(DEMO, memo)
    with tempfile.TemporaryDirectory() as folder:
        jobs = [moved(Path(folder) / str(inches), inches) for inches in (4, 5, 6)]
        laps = middle(took(lambda job=job: open_plan(job, memo=memo).layout) for job in jobs)  # type: ignore[misc]
        jobs = [moved(Path(folder) / str(inches), inches) for inches in (7, 8, 9)]
        whole = middle(took(lambda job=job: ordered(job, memo)) for job in jobs)  # type: ignore[misc]
    timed("  one window moved: read, pieces, laps again", laps, unit)
    timed("  one window moved: read, pieces, laps, cuts, order again", whole, unit, "0.3 s")


def growth(unit: Took) -> None:
    """Row houses of one to ten times the openings; the exponent of the time over the number of openings."""
    line("Row houses: one house, more and more bays", "", "", "")
    openings, seconds = [], []
    with tempfile.TemporaryDirectory() as folder:
        for modules in MODULES:
            job = row_house(Path(folder) / str(modules), modules)
            plan = ordered(job)
            openings.append(sum(len(f.openings) for f in plan.job.survey.faces))
            again = median(lambda job=job: ordered(job), 3 if modules < 10 else 1)  # type: ignore[misc]
            seconds.append(again.cpu_s)
            timed(f"  {openings[-1]} openings, {len(plan.layout.pieces)} pieces", again, unit)
    exponent = float(np.polyfit(np.log(openings), np.log(seconds), 1)[0])
    last = math.log(seconds[-1] / seconds[-2]) / math.log(openings[-1] / openings[-2])
    line("  exponent over all; over the last doubling", f"{exponent:.2f}; {last:.2f}", "", "about 1")


def drops(unit: Took) -> None:
    """The drop test on the demo and on row houses: seconds without what comes before it, and the exponent over pieces."""
    line("Drop test, the layout given", "", "", "")
    demo_plan = ordered(DEMO)
    took_demo = median(lambda: dropped(demo_plan))
    timed(f"  the demo, {len(demo_plan.layout.pieces)} pieces", took_demo, unit)
    pieces, seconds = [], []
    with tempfile.TemporaryDirectory() as folder:
        for modules in (7, 15, 31):
            plan = ordered(row_house(Path(folder) / str(modules), modules))
            again = took(lambda plan=plan: dropped(plan))  # type: ignore[misc]
            pieces.append(len(plan.layout.pieces))
            seconds.append(again.cpu_s)
            timed(f"  row house, {pieces[-1]} pieces", again, unit)
    line("  exponent over pieces", f"{float(np.polyfit(np.log(pieces), np.log(seconds), 1)[0]):.2f}", "", "about 1")


def dropped(plan: Plan) -> object:
    """Run the drop test on a plan's layout, nothing kept."""
    survey, pieces = plan.job.survey, plan.layout.pieces
    found = walls(survey, pieces, plan.layout.laps)
    return drop_test(found, around=surroundings(survey, pieces, found))


def packing() -> None:
    """Published packing instances: share that end with the least number of bins."""
    every = instances.published()
    few = [x for x in every if x.name.startswith("u120")][:3]
    line(f"Packing kernel on {len(every)} published instances", "", "", "")
    ours = instances.score(every, instances.kernel)
    plain = instances.score(every, instances.first_fit_decreasing)
    share = f"{ours.optimal} of {ours.count}"
    line("  least number of bins", share, "", f"95 % = {math.ceil(0.95 * ours.count)}")
    line("  plain first fit decreasing", f"{plain.optimal} of {plain.count}")
    line("  median; longest of one instance", f"{ours.median:.3f} s; {max(ours.seconds):.2f} s", "", "1 s")
    three, program = instances.score(few, instances.kernel), instances.score(few, instances.arc_flow)
    line(f"  three of 120 sizes: {instances.PROGRAM}", f"{program.median:.2f} s", "", f"{program.optimal} of 3 found")
    line("  the same by the kernel", f"{three.median:.4f} s", f"1/{program.median / three.median:.0f} of it")


def drawn() -> None:
    """How far the demo's cutting is from the least that any could draw."""
    line("Drawn from stock for the demo, and the least that any cutting could draw", "", "", "")
    plan = ordered(DEMO)
    for row in document(plan, ["bounds"])["bounds"]:
        layer = plan.catalog[row["product"]].layer
        for name, key in (("least for these pieces", "packing_bound_m"), ("least for any pieces", "layout_bound_m")):
            if row[key]:
                over = f"+{100 * (row['drawn_m'] / row[key] - 1):.1f} %"
                figure = f"{row['drawn_m']:.2f} m"
                target = "2 %" if layer == "barrier" else ""
                line(f"  {row['product']}: over {name}, {row[key]:.2f} m", figure, over, target)
        line(f"  {row['product']}: units; least", f"{row['stock_used']}; {row['packing_bound_stock']}")


def layout_gap() -> None:
    """How much longer the course lines of twenty small faces are drawn than the best of every choice of lines."""
    sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "layout")]
    from test_course_search import lines_of

    from course_search import least_drawn, small_face  # the tests' own search

    gaps = []
    for seed in range(20):
        face = small_face(seed)
        gaps.append(sum(face.drawn(a, b) for a, b in lines_of(face)) / least_drawn(face) - 1)
    line("Layout gap: 20 small faces over every choice of course lines", f"median +{100 * float(np.median(gaps)):.1f} %", "", "2 %")
    line("  worst face; faces within 2 %", f"+{100 * max(gaps):.1f} %", f"{sum(g <= 0.02 for g in gaps)} of 20")


def main() -> None:
    """Print everything."""
    peers = [peer() for _ in range(5)]
    unit = middle(peers)
    spread = [p.cpu_s / unit.cpu_s for p in peers]
    print("Seconds are on the wall; ratios compare processor time.")
    print(f"Peer: {PEER}\n")
    line("peer, median of five", f"{unit.wall_s:.3f} s", f"{min(spread):.2f}-{max(spread):.2f}")
    demo(unit)
    change(unit)
    growth(unit)
    drops(unit)
    packing()
    drawn()
    layout_gap()
    timed("peer again, at the end", middle(peer() for _ in range(3)), unit, "near 1, or another program was busy here")


if __name__ == "__main__":
    main()
