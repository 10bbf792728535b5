"""Findings of compatibility: what touches what it may not, and what its season or its hours do not suit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from lapwright.catalog.model import Catalog
from lapwright.compatible.alone import alone
from lapwright.compatible.rules import ALONE, Rule, rules
from lapwright.compatible.things import Thing
from lapwright.compatible.touch import Contact, contacts
from lapwright.details.base import Lap, Piece, Step
from lapwright.findings import Finding, Level, Where
from lapwright.scope.model import Scope
from lapwright.survey.model import Survey

NAMED = 3  # so many places are named, the rest counted: what fits in one line
SAYS = {
    "over": "{a} lies over {b}",
    "touching": "{a} touches {b}",
    "on-wall": "{a} is stuck to {b}",
    "fastened": "{b} is held by {a}",
    "layers": "{a} lies against {b}",
    "apart": "{a} outside and {b} inside of one wall",
}


def findings(
    survey: Survey, scope: Scope, catalog: Catalog, pieces: Sequence[Piece] = (), laps: Sequence[Lap] = (),
    steps: Sequence[Step] = (),
) -> list[Finding]:  # fmt: skip
    """Return what may not touch and does, and limits of season and exposure, by the built-in rules and the job's own.

    Without pieces only the make-ups are judged. BadJob when a rule of the job's catalog.yaml does not read. No finding
    means that no rule speaks of what is used, no more.
    """
    known = rules(catalog)
    pairs = Judge([r for r in known if r.between not in ALONE])
    found = contacts(survey, scope, catalog, pieces, laps, pairs.cares)
    return [*_told(pairs, found, survey), *alone(known, survey, scope, catalog, pieces, steps)]


class Judge:
    """Answers which rules speak of a pair, each pair looked at once."""

    def __init__(self, known: Sequence[Rule]) -> None:
        self.by_kind: dict[str, list[Rule]] = {}
        for rule in known:
            self.by_kind.setdefault(rule.between, []).append(rule)
        self.seen: dict[tuple[str, ...], tuple[Rule, ...]] = {}

    def of(self, between: str, a: Thing, b: Thing) -> tuple[Rule, ...]:
        """Return the rules that speak of the pair; only the job's own word where that allows it."""
        key = (between, a.key, a.name, b.key, b.name)
        if key not in self.seen:
            mine = [r for r in self.by_kind.get(between, ()) if a.has(r.a) and b.has(r.b)]
            allowed = [r for r in mine if r.verdict == "allow"]
            self.seen[key] = tuple(allowed[:1] or mine)
        return self.seen[key]

    def cares(self, between: str, a: Thing, b: Thing) -> bool:
        """Return whether any rule speaks of the pair."""
        return bool(self.of(between, a, b))


@dataclass
class _Row:
    """One finding being gathered."""

    contact: Contact
    rule: Rule
    places: dict[str, None] = field(default_factory=dict)
    spots: int = 0


def _told(judge: Judge, found: Sequence[Contact], survey: Survey) -> Iterator[Finding]:
    """Yield one finding per rule, pair and surface; notes once for the house."""
    rows: dict[tuple[str, ...], _Row] = {}
    for contact in found:
        for rule in judge.of(contact.between, contact.a, contact.b):
            surface = contact.surface if rule.verdict in ("stop", "warn") else ""
            row = rows.setdefault((rule.id, contact.a.name, contact.b.name, surface), _Row(contact, rule))
            row.places.update(dict.fromkeys(contact.places))
            row.spots += contact.spots
    for row in rows.values():
        yield _finding(row, survey)


def _finding(row: _Row, survey: Survey) -> Finding:
    contact, rule = row.contact, row.rule
    places = list(row.places)
    more = f" and {len(places) - NAMED} more" if len(places) > NAMED else ""
    at = f", at {', '.join(places[:NAMED])}{more}" if places else ""
    what = f"{SAYS[contact.between].format(a=contact.a.name, b=contact.b.name)}{at}."
    what = what[:1].upper() + what[1:]
    level: Level = "note" if rule.verdict == "allow" else rule.verdict  # type: ignore[assignment]
    if rule.verdict == "allow":
        what = f"Allowed by the job's catalog.yaml: {what[:1].lower() + what[1:]}"
    where = Where(
        survey.file,
        surface=contact.surface or None,
        thing=places[0] if places else None,
        x_m=contact.x_m,
        y_m=contact.y_m,
    )
    return Finding(rule.code, level, what, rule.why, rule.fix, where, rule.source)
