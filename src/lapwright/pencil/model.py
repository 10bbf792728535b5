"""Records of the pencil test: patches of the boundary, the joints between them, and what came of each layer there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from lapwright.findings import Finding, Where

LAYERS = ("water", "air", "vapor", "heat")
# tied: the pencil goes on. gap: it lifts. not_seen: old work that nobody has looked at, neither pass nor gap.
# not_given: the job file does not say; not_asked: the layer need not close here.
State = Literal["tied", "gap", "not_seen", "not_given", "not_asked"]
Point = tuple[float, float]


@dataclass(frozen=True)
class Patch:
    """One part of the heated space's boundary: a zone of a wall, a party wall, the lowest floor, what is overhead.

    kind: new | kept | party | garage | floor | top. surface: its face, or None; loop: its loop, "" for the whole house.
    states: layer -> State, whether the patch itself carries it.
    """

    id: str
    kind: str
    surface: str | None
    loop: str
    states: Mapping[str, State]
    where: Where = field(default_factory=Where)


@dataclass(frozen=True)
class Joint:
    """One line where two patches meet, and for each layer whether it goes on there.

    line: metres on `surface`. kind: base, eave, rake, corner, boundary, opening, penetration, an attachment's kind,
    or `old` (at kept or shared walls). ties: ids of the ties found there; closes: what would close a gap, in words.
    """

    id: str
    kind: str
    sort: str
    sides: tuple[str, str]
    surface: str
    line: tuple[Point, ...]
    length_m: float
    states: Mapping[str, State]
    ties: tuple[str, ...] = ()
    closes: str = ""
    where: Where = field(default_factory=Where)

    def in_state(self, state: State) -> list[str]:
        """Return the layers that are in this state here, in the fixed order of layers."""
        return [layer for layer in LAYERS if self.states[layer] == state]


@dataclass(frozen=True)
class PencilTest:
    """The whole trace. `lacks`: what the survey would have to say before a layer can be traced, in words."""

    patches: tuple[Patch, ...]
    joints: tuple[Joint, ...]
    lacks: tuple[str, ...]
    findings: tuple[Finding, ...]

    @property
    def gaps(self) -> list[tuple[str, str]]:
        """(joint id, layer) of every gap, in order."""
        return [(j.id, layer) for j in self.joints for layer in j.in_state("gap")]

    def meters(self, layer: str, state: State) -> float:
        """Return the length of all joints where the layer is in this state, metres."""
        return sum(j.length_m for j in self.joints if j.states[layer] == state)

    def closes(self, layer: str) -> bool | None:
        """Return True when the layer closes, False when it has a gap, None when some of it was not seen or not given."""
        states = {p.states[layer] for p in self.patches} | {j.states[layer] for j in self.joints}
        if "gap" in states:
            return False
        return None if states & {"not_seen", "not_given"} else True
