"""The table of hazards: one row is one hazard, with its words, its code and edition, and where it bites.

Every text ends with who decides; no text is an all-clear, and what no row says is not thereby harmless.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from importlib import resources
from typing import Any, Literal

import yaml

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)  # the C parser is ten times quicker
Standing = Literal["seen", "memory", "practice"]
STANDINGS: Mapping[str, str] = {
    "seen": "read in a published copy",
    "memory": "clause from memory",
    "practice": "common practice",
}


@dataclass(frozen=True)
class Cite:
    """One clause: code, year of its edition or rule ("" or "local" when it has none), standing, where it was seen."""

    code: str
    edition: str
    standing: Standing
    where: str = ""

    def __str__(self) -> str:
        return f"{self.code}, {self.edition}" if self.edition.isdigit() else self.code


@dataclass(frozen=True)
class Row:
    """One hazard. `when`: groups of condition names, all groups, any of a group; `at`: step patterns; `layers`: of pieces.

    line: line of the trade's list (1-7), 0 when it comes from the work itself. runs: what runs in a penetration.
    once: said at the first step of a place where it bites.
    """

    id: str
    line: int
    say: str
    cites: tuple[Cite, ...]
    decides: str = ""
    when: tuple[tuple[str, ...], ...] = ()
    at: tuple[str, ...] = ()
    layers: tuple[str, ...] = ()
    runs: tuple[str, ...] = ()
    once: bool = False

    @cached_property
    def source(self) -> str:
        """The clauses, each with its year: `IRC R602.10, 2021`."""
        return "; ".join(str(c) for c in self.cites)

    @cached_property
    def text(self) -> str:
        """The caution as it stands beside the step: words, code, who decides."""
        who = f"local code and {self.decides} decide" if self.decides else "local code decides"
        return f"{self.say} ({self.source}; {who})"


_KEYS = {"id", "line", "when", "at", "layers", "runs", "once", "say", "cite", "decides"}


@cache
def table() -> tuple[Row, ...]:
    """Return all hazards in the order in which they are said. ValueError for a row that cannot be read.

    >>> next(r for r in table() if r.id == "bracing").source
    'IRC R602.10, 2021'
    """
    text = resources.files("lapwright.hazards").joinpath("table.yaml").read_text(encoding="utf-8")
    rows = tuple(_row(entry) for entry in yaml.load(text, Loader=_LOADER))
    if len({r.id for r in rows}) != len(rows):
        raise ValueError("two hazards have one id")
    return rows


def row(row_id: str) -> Row:
    """Return the hazard of that id; KeyError when there is none."""
    for found in table():
        if found.id == row_id:
            return found
    raise KeyError(row_id)


def _row(entry: Any) -> Row:
    if not isinstance(entry, dict) or not {"id", "line", "say", "cite"} <= set(entry) <= _KEYS:
        raise ValueError(f"hazard {entry!r} lacks a name or has one that nobody reads")
    cites = tuple(Cite(*(str(part) for part in cite)) for cite in entry["cite"])  # type: ignore[arg-type]
    for cite in cites:
        if cite.standing not in STANDINGS or (cite.standing == "seen") != bool(cite.where):
            raise ValueError(f"hazard {entry['id']}: {cite.code}: standing is seen (and where), memory or practice")
    when = tuple(tuple(g) if isinstance(g, list) else (str(g),) for g in entry.get("when", ()))
    return Row(
        id=str(entry["id"]),
        line=int(entry["line"]),
        say=str(entry["say"]),
        cites=cites,
        decides=str(entry.get("decides", "")),
        when=when,
        at=tuple(entry.get("at", ())),
        layers=tuple(entry.get("layers", ())),
        runs=tuple(entry.get("runs", ())),
        once=bool(entry.get("once", False)),
    )
