"""What is wanted: assemblies (layers outside to inside), the details chosen, crew, stock, prices, what is built."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from lapwright.findings import Finding, Where
from lapwright.survey.model import Position, Survey


@dataclass(frozen=True)
class Layer:
    """One layer of an assembly. `product` is a catalog id or None; `existing` stays as it stands.

    Explicit numbers (R in m2K/W, permeance in kg/(s m2 Pa)) may stand instead of a material.
    """

    layer: str
    product: str | None = None
    material: str | None = None
    thickness_m: float | None = None
    existing: bool = False
    r_m2K_W: float | None = None
    permeance: float | None = None
    where: Where = field(default_factory=Where)


@dataclass(frozen=True)
class Assembly:
    """Layers from outside to inside."""

    id: str
    layers: tuple[Layer, ...]
    where: Where = field(default_factory=Where)

    def product(self, layer: str) -> str | None:
        """Return the product of the first new layer of that kind, or None."""
        for item in self.layers:
            if item.layer == layer and item.product and not item.existing:
                return item.product
        return None


@dataclass(frozen=True)
class Crew:
    """people: how many hands; `hold_m`: longest piece two people hold on a clean wall; hourly wage or None."""

    people: int = 2
    wage_per_h: float | None = None
    rates: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Built:
    """What is already on the wall: taken from an earlier plan.json, fixed from now on."""

    pieces: tuple[Mapping[str, object], ...] = ()
    cuts: tuple[Mapping[str, object], ...] = ()
    stock: tuple[Mapping[str, object], ...] = ()
    lines: tuple[Mapping[str, object], ...] = ()


@dataclass(frozen=True)
class Setting:
    """A figure of a detail as the file gives it; what it means is known when the detail is (`details.settings`).

    value: in SI, a word, or the plain number as it stands. kind: length, temperature ..., number, word.
    length_m: the same read as a length, by the job's `bare_numbers` when no unit stands there; None when it is none,
    and then `refused` says what was wrong and the fix.
    """

    value: float | str
    kind: str
    length_m: float | None = None
    refused: tuple[str, str] = ("", "")
    where: Where = field(default_factory=Where)


@dataclass(frozen=True)
class Scope:
    """Decisions of the job.

    details: place id -> detail name (overrides the default choice).
    settings: detail name -> {setting: value in SI} (overrides a detail's default figures).
    on_hand: stock already there: (product, length_m, width_m or None, count).
    """

    assemblies: Mapping[str, Assembly] = field(default_factory=dict)
    details: Mapping[str, str] = field(default_factory=dict)
    settings: Mapping[str, Mapping[str, float | str]] = field(default_factory=dict)
    crew: Crew = field(default_factory=Crew)
    on_hand: tuple[tuple[str, float, float | None, int], ...] = ()
    built: Built = field(default_factory=Built)
    accept: tuple[tuple[str, str, str], ...] = ()  # (code, place or "", reason)
    unfound_ratio: tuple[float, float] = (0.05, 0.15)
    currency: str = "USD"
    prices: Mapping[str, float] = field(default_factory=dict)
    own_details: tuple[str, ...] = ()
    figures: Mapping[str, Mapping[str, Setting]] = field(default_factory=dict)  # `settings` before they are checked
    typed: Mapping[str, Mapping[str, object]] = field(default_factory=dict)  # `settings` as the file has them
    positions: Mapping[str, Position] = field(default_factory=dict)  # assembly id -> how deep its new units sit


@dataclass(frozen=True)
class Job:
    """One job as read: what stands, what is wanted, and what the reader had to say (non-fatal findings)."""

    survey: Survey
    scope: Scope
    folder: Path
    file: Path
    findings: tuple[Finding, ...] = ()
