"""Whether what bridges a joint can be counted on: do its adhesive and what it is stuck to go together?"""

from __future__ import annotations

from collections.abc import Iterable

from lapwright.catalog.model import Catalog
from lapwright.compatible.check import Judge
from lapwright.compatible.rules import ALONE, rules
from lapwright.compatible.things import Stuff, Things
from lapwright.details.base import Check


class Bonds:
    """Answers for tape, film and sealant over a joint, by the built-in rules and the job's own.

    checks: what is looked at before it is covered; None when nobody says (an arrangement somebody wrote down).
    """

    def __init__(self, catalog: Catalog, checks: Iterable[Check] | None = None) -> None:
        self._judge = Judge([r for r in rules(catalog) if r.between not in ALONE])
        self._things = Things(catalog)
        self._checked = None if checks is None else {(c.place, c.step) for c in checks}

    def fault(self, over: Stuff, under: Stuff) -> str:
        """Return why the upper may let go of the lower, in words; "" when no rule stops it or warns of it."""
        a, b = self._things.piece(over), self._things.piece(under)
        for between, one, other in (("over", a, b), ("touching", a, b), ("touching", b, a)):
            for rule in self._judge.of(between, one, other):
                if rule.verdict in ("stop", "warn"):
                    return f"{a.name} on {b.name}: {rule.why}"
        return ""

    def checked(self, place: str, step: str) -> bool:
        """Return whether a check of that place's step exists; True when nobody says."""
        return self._checked is None or (place, step) in self._checked
