"""How long things take: labor rates with their range, middle and source.

The figures are of a small crew working steadily on a house like this one. A crew's own records overrule them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

from lapwright.catalog.notebook import Map, Text, read
from lapwright.units import FOOT_M

# More than four obstructions (openings, pipes ...) in 100 sq ft halve the pace of courses: common practice.
OBSTRUCTIONS_PER_M2 = 4 / float(100 * FOOT_M**2)
OWN = "own record"

_UNITS: dict[str, tuple[Literal["m2", "m", "each"], float]] = {
    "sq ft/h": ("m2", float(FOOT_M**2)),
    "ft/h": ("m", float(FOOT_M)),
    "h": ("each", 1.0),
    "min": ("each", 1 / 60),
}
_RANGE = re.compile(r"([\d.]+)-([\d.]+) (.+)")


@dataclass(frozen=True)
class Rate:
    """Pace of one task by `people` hands.

    measured_in `m2` or `m`: low, high are amounts an hour; `each`: low, high are hours for one.
    """

    task: str
    title: str
    measured_in: Literal["m2", "m", "each"]
    low: float
    high: float
    people: int
    source: str

    @property
    def middle(self) -> float:
        """The middle of the range, in the same measure."""
        return (self.low + self.high) / 2


@cache
def table() -> Mapping[str, Rate]:
    """Return all rates by task, in the order of rates.yaml."""
    text = Path(__file__).with_name("rates.yaml").read_text(encoding="utf-8")
    root = read(text, "rates.yaml")
    assert isinstance(root, Map), "rates.yaml is a map of tasks"
    return {task: _rate(task, node) for task, (_, node) in root.items.items() if isinstance(node, Map)}


def _rate(task: str, node: Map) -> Rate:
    words = {name: item.text for name, (_, item) in node.items.items() if isinstance(item, Text)}
    sheet = words.get("does") or words["takes"]
    match = _RANGE.fullmatch(sheet)
    assert match, f"{task}: '{sheet}' is no range with a unit"
    measured_in, factor = _UNITS[match[3]]
    people = int(words["people"])
    hands = {1: "one person", 2: "crew of two"}[people]
    source = f"{words['title']}: {sheet}, {hands}; {words.get('source', 'common practice')}"
    low, high = float(match[1]) * factor, float(match[2]) * factor
    return Rate(task, words["title"], measured_in, low, high, people, source)


def rate(task: str) -> Rate:
    """Return the rate of a task; KeyError that names the closest task when there is none."""
    found = table().get(task)
    if found is None:
        import difflib  # 6 ms, needed only for a slip

        close = difflib.get_close_matches(task, list(table()), n=1)
        raise KeyError(f"no labor rate named '{task}'" + (f"; did you mean '{close[0]}'?" if close else ""))
    return found


def hours(
    task: str, amount: float, people: int, crew_rates: Mapping[str, float] | None = None
) -> tuple[float, float, float, str]:
    """Return (low, middle, high, source) of the hours that `people` need for `amount` of a task.

    amount: m2, m or a count, as `rate(task).measured_in` says, >= 0. people >= 1; the hands share the work
    evenly (common practice; true for about one to four). crew_rates: own records by task, in the measure of
    the table (m2/h, m/h, hours for one) and for as many hands as the table's line; they carry no range.
    The hours are those on the clock, not multiplied by people. Raises KeyError for an unknown task,
    ValueError for an amount, people or own record that cannot be.

    >>> low, middle, high, source = hours("tear-off", 100 * 0.3048**2, 2)
    >>> round(low, 3), round(middle, 3), round(high, 3), source
    (1.0, 1.25, 1.667, 'Tear off cladding: 60-100 sq ft/h, crew of two; common practice')
    """
    line = rate(task)
    if amount < 0 or people < 1:
        raise ValueError(f"{task}: {amount:g} {line.measured_in} by {people} people cannot be")
    share = amount * line.people / people
    own = (crew_rates or {}).get(task)
    if own is not None:
        if own <= 0:
            raise ValueError(f"{task}: an own record of {own:g} cannot be")
        took = share * own if line.measured_in == "each" else share / own
        return took, took, took, f"{line.title}: {OWN}"
    if line.measured_in == "each":
        return share * line.low, share * line.middle, share * line.high, line.source
    return share / line.high, share / line.middle, share / line.low, line.source


def courses_task(obstructions: int, area_m2: float) -> str:
    """Return the task for courses on a wall of `area_m2` (> 0) with that many obstructions.

    >>> courses_task(4, 100 * 0.3048**2), courses_task(5, 100 * 0.3048**2)
    ('courses', 'courses-obstructed')
    """
    return "courses-obstructed" if obstructions > OBSTRUCTIONS_PER_M2 * area_m2 * (1 + 1e-9) else "courses"


def spread(source: str, middle_h: float) -> tuple[float, float] | None:
    """Return (low, high) hours for a middle figure that `hours` gave with this source.

    None when the source is not one of the table's: the range is then not known. An own record has none.
    Several tasks in one step may be joined with " + ": the widest range of them counts for all.
    """
    lows: list[float] = []
    highs: list[float] = []
    for part in source.split(" + "):
        title = part.split(":", 1)[0]
        line = next((r for r in table().values() if r.title == title), None)
        if line is None:
            return None
        if part.endswith(OWN):
            lows.append(1.0)
            highs.append(1.0)
        elif line.measured_in == "each":
            lows.append(line.low / line.middle)
            highs.append(line.high / line.middle)
        else:
            lows.append(line.middle / line.high)
            highs.append(line.middle / line.low)
    return middle_h * min(lows), middle_h * max(highs)
