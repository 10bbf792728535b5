"""The rules of what may not touch what: the built-in table, and the job's own rows over it.

Both have one form (`rules.yaml`, docs/compatibility.md). A job's row with the id of a built-in one takes its place; a
row whose verdict is `allow` lets its pair be, and says whose word that is.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import resources

from lapwright.catalog.model import Catalog
from lapwright.catalog.notebook import List, Map, Node, Text, read
from lapwright.compatible.things import TRAITS
from lapwright.findings import BadJob, Finding, Where, in_order

BETWEEN = ("touching", "over", "on-wall", "fastened", "layers", "apart", "season", "exposure")
ALONE = ("season", "exposure")  # these have no second thing
VERDICTS = ("stop", "warn", "note", "allow")
LIMITS = {"season": ("cold-day", "cold-morning", "hot"), "exposure": ("face", "house")}
NAMES = ("between", "a", "b", "verdict", "limit", "why", "fix", "source")
FILE = "rules.yaml"
JOB_FILE = "catalog.yaml"


@dataclass(frozen=True)
class Rule:
    """One rule. a, b: words by trait (b empty where the rule has one thing). own: from the job's catalog.yaml."""

    id: str
    between: str
    a: Mapping[str, frozenset[str]]
    b: Mapping[str, frozenset[str]]
    verdict: str
    why: str
    fix: str
    source: str
    limit: str = ""
    own: bool = False
    where: Where = field(default_factory=Where)

    @property
    def code(self) -> str:
        """The code of its findings: `compatible.copper_on_aluminum`."""
        return f"compatible.{self.id.replace('-', '_')}"


@cache
def builtin() -> tuple[Rule, ...]:
    """Return the rules that come with the program, in their order.

    >>> next(r for r in builtin() if r.id == "copper-on-aluminum").verdict
    'stop'
    """
    text = resources.files("lapwright.compatible").joinpath(FILE).read_text(encoding="utf-8")
    return tuple(_read(read(text, FILE), FILE, own=False))


def rules(catalog: Catalog) -> list[Rule]:
    """Return the job's own rules, then the built-in ones that they do not replace.

    BadJob with file and line for a row that does not read.
    """
    own = _read(catalog.compatibility, JOB_FILE, own=True) if catalog.compatibility is not None else []
    taken = {r.id for r in own}
    return [*own, *(r for r in builtin() if r.id not in taken)]


def _read(root: Node | None, file: str, own: bool) -> list[Rule]:
    if root is None or (isinstance(root, Text) and not root.text):
        return []
    reader = _Reader(file, own)
    if not isinstance(root, Map):
        reader.stop(root.line, "compatibility should be a list of rules by name", "Write 'my-rule:' and its lines under it.", "")
        raise BadJob(reader.findings)
    made = [reader.rule(rule_id, line, node) for rule_id, (line, node) in root.items.items()]
    if reader.findings:
        raise BadJob(in_order(reader.findings))
    return [r for r in made if r is not None]


class _Reader:
    """One list of rules being read; gathers every finding before it gives up."""

    def __init__(self, file: str, own: bool) -> None:
        self.file = file
        self.own = own
        self.findings: list[Finding] = []

    def stop(self, line: int, what: str, fix: str, thing: str) -> None:
        where = Where(file=self.file, line=line, thing=thing or None)
        self.findings.append(Finding("compatible.bad_rule", "stop", what, fix=fix, where=where))

    def rule(self, rule_id: str, line: int, node: Node) -> Rule | None:
        """Return one rule, or None when it does not read."""
        before = len(self.findings)
        if not re.fullmatch(r"[a-z]+(-[a-z]+)*", rule_id):
            self.stop(line, f"'{rule_id[:40]}' is no name for a rule", "Use lower case words joined by '-': my-tape-on-osb.", rule_id[:40])
        if not isinstance(node, Map):
            self.stop(line, f"{rule_id[:40]} has no lines below it", "Write between, a, b, verdict, why, fix, source.", rule_id[:40])
            return None
        for name, (at, _) in node.items.items():
            if name not in NAMES:
                self.stop(at, f"{rule_id}: nothing reads '{name[:40]}'", _near(name, NAMES), rule_id)
        between = self._choice(rule_id, line, node, "between", BETWEEN)
        verdict = self._choice(rule_id, line, node, "verdict", VERDICTS if self.own else VERDICTS[:3])
        limit = self._choice(rule_id, line, node, "limit", LIMITS[between]) if between in LIMITS else ""
        if "limit" in node.items and between not in LIMITS:
            self.stop(node.items["limit"][0], f"{rule_id}: limit belongs to season and exposure", "Take the line out.", rule_id)
        a = self._conditions(rule_id, line, node, "a")
        b = self._conditions(rule_id, line, node, "b", needed=between not in ALONE)
        words = {name: self._words(rule_id, line, node, name, verdict) for name in ("why", "fix", "source")}
        if len(self.findings) > before:
            return None
        where = Where(file=self.file, line=line, thing=rule_id) if self.own else Where()
        return Rule(rule_id, between, a, b, verdict, words["why"], words["fix"], words["source"], limit, self.own, where)

    def _choice(self, rule_id: str, line: int, node: Map, name: str, allowed: tuple[str, ...]) -> str:
        at, item = node.items.get(name, (line, None))
        said = item.text if isinstance(item, Text) else ""
        if said not in allowed:
            what = f"{rule_id}: '{said[:40]}' is no {name}" if said else f"{rule_id} has no {name}"
            self.stop(at, what, f"Write '{name}:' with one of: {', '.join(allowed)}.", rule_id)
            return ""
        return said

    def _words(self, rule_id: str, line: int, node: Map, name: str, verdict: str) -> str:
        at, item = node.items.get(name, (line, None))
        said = " ".join(item.text.split()) if isinstance(item, Text) else ""
        if not said and not (verdict == "allow" and name == "fix"):
            self.stop(at, f"{rule_id} has no {name}", f"Write '{name}:' and plain words; source is the sheet or whose word it is.", rule_id)
        return said

    def _conditions(self, rule_id: str, line: int, node: Map, name: str, needed: bool = True) -> dict[str, frozenset[str]]:
        at, item = node.items.get(name, (line, None))
        if item is None and not needed:
            return {}
        if item is not None and not needed:
            self.stop(at, f"{rule_id}: a rule of season or exposure has one thing", "Take out 'b'.", rule_id)
            return {}
        if not isinstance(item, Map) or not item.items:
            self.stop(at, f"{rule_id} does not say what {name} is", f"Write '{name}: {{stuff: osb}}'.", rule_id)
            return {}
        out: dict[str, frozenset[str]] = {}
        for trait, (spot, value) in item.items.items():
            if trait not in TRAITS:
                self.stop(spot, f"{rule_id}: things have no '{trait[:40]}'", _near(trait, TRAITS), rule_id)
                continue
            parts = value.items if isinstance(value, List) else (value,)
            words = [p.text for p in parts if isinstance(p, Text) and p.text]
            if len(words) != len(parts) or not words:
                self.stop(spot, f"{rule_id}: {trait} should be a word or a list of words", f"Write '{trait}: [one, other]'.", rule_id)
                continue
            out[trait] = frozenset(words)
        return out


def _near(word: str, known: tuple[str, ...]) -> str:
    close = difflib.get_close_matches(word, known, n=1)
    return f"Did you mean '{close[0]}'?" if close else f"Known: {', '.join(known)}."
