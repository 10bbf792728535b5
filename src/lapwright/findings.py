"""Findings: the one way this program says that something is wrong.

Every check, from a tape that does not close to a course lapped the wrong way, speaks through
`Finding`, in a carpenter's words, with the mend beside it. `BadJob` carries the findings of a job
that cannot be read at all (exit status 2: nothing is written).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, Literal

Level = Literal["stop", "warn", "note"]
LEVELS: tuple[Level, ...] = ("stop", "warn", "note")


@dataclass(frozen=True)
class Where:
    """A place a finding points at: a line of the job file, and/or a spot on a surface.

    `x_m`, `y_m` are metres in the surface's own coordinates (x right from its left edge seen from
    outside, y up from the reference line).
    """

    file: str | None = None
    line: int | None = None
    surface: str | None = None
    thing: str | None = None
    x_m: float | None = None
    y_m: float | None = None

    def to_json(self) -> dict[str, Any]:
        """Return the non-empty fields as a plain dict (lengths rounded to 0.1 mm)."""
        out: dict[str, Any] = {}
        for key in ("file", "line", "surface", "thing"):
            value = getattr(self, key)
            if value is not None:
                out[key] = value
        for key in ("x_m", "y_m"):
            value = getattr(self, key)
            if value is not None:
                out[key] = round(value, 4)
        return out

    def __str__(self) -> str:
        spots = [f"{self.file or 'house.yaml'} line {self.line}"] if self.line else []
        spots += [s for s in (self.surface, self.thing) if s]
        return ", ".join(spots)


@dataclass(frozen=True)
class Finding:
    """One thing that is wrong, or worth knowing.

    code: stable, dotted, lower case (`tape.open`, `lap.too_wide`); level: `stop` do not build this,
    `warn` may be accepted with a reason, `note` worth knowing; fix: what to do, first words first;
    source: clause or "common practice"; changes: names of Changes that mend it.
    """

    code: str
    level: Level
    what: str
    why: str = ""
    fix: str = ""
    where: Where = field(default_factory=Where)
    source: str = ""
    changes: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Return the finding as plan.json holds it."""
        return {
            "code": self.code,
            "level": self.level,
            "where": self.where.to_json(),
            "what": self.what,
            "why": self.why,
            "fix": self.fix,
            "source": self.source,
            "changes": list(self.changes),
        }


class BadJob(Exception):
    """The job is malformed or contradicts itself; carries at least one `stop` finding."""

    def __init__(self, findings: Iterable[Finding]) -> None:
        self.findings = tuple(findings)
        super().__init__("; ".join(f"{f.where}: {f.what}" for f in self.findings))


def in_order(findings: Iterable[Finding]) -> list[Finding]:
    """Sort findings: stops first, then warnings, then notes; then by code, place and text. Drops exact repeats."""
    unique = dict.fromkeys(findings)
    return sorted(
        unique,
        key=lambda f: (LEVELS.index(f.level), f.code, f.where.line or 0, str(f.where), f.what),
    )
