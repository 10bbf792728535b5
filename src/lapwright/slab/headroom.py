"""The headroom budget: headroom after = headroom now + dig - (gravel + foam + slab + finish), all in metres."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

ADDED = ("gravel", "foam", "slab", "finish")
TERMS = ("now", "dig", *ADDED, "after")


class NoBudget(ValueError):
    """The terms given do not make a budget; the message says why, in plain words."""


@dataclass(frozen=True)
class Headroom:
    """A budget that adds up. `solved`: the term that was worked out ("" when all were given)."""

    terms: Mapping[str, float]
    solved: str

    def __getitem__(self, name: str) -> float:
        return self.terms[name]


def headroom(terms: Mapping[str, float | None]) -> Headroom:
    """Return the budget with its one missing term worked out.

    terms: any of `TERMS` in metres, None or absent = not given; `gravel`, `foam`, `slab` and `finish` that are
    absent altogether count as 0. Raises NoBudget when more than one is open, when all are given and do not add
    up within 1 mm, and when the missing one comes out negative.

    >>> headroom({"now": 2.0, "dig": None, "gravel": 0.1, "foam": 0.05, "slab": 0.1, "after": 2.05})["dig"]
    0.3
    """
    known = {name: terms.get(name, 0.0 if name in ADDED else None) for name in TERMS}
    open_ = [name for name, value in known.items() if value is None]
    if len(open_) > 1:
        raise NoBudget(f"{', '.join(open_[:-1])} and {open_[-1]} are not given; one of them can be worked out, not more")
    for name, value in known.items():
        if value is not None and value < 0:
            raise NoBudget(f"{name} is less than nothing")
    have = {name: float(value) for name, value in known.items() if value is not None}
    sign = {"now": 1.0, "dig": 1.0, "after": -1.0, **dict.fromkeys(ADDED, -1.0)}
    rest = sum(sign[name] * value for name, value in have.items())
    if not open_:
        if abs(rest) > 1e-3:
            raise NoBudget(f"the budget is {rest * 1000:+.0f} mm off")
        return Headroom(have, "")
    (name,) = open_
    solved = round(-sign[name] * rest, 6) + 0.0
    if solved < -1e-9:
        raise NoBudget(f"{name} would have to be {solved * 1000:.0f} mm")
    return Headroom({n: have.get(n, max(solved, 0.0)) for n in TERMS}, name)
