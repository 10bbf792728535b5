"""What an ensemble says of a wall: how wet and moldy each place gets, how likely, and what it means for the builder."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.stats import beta, rankdata

from lapwright.assemblies.build import Built, Spot, worded
from lapwright.findings import Level
from lapwright.moisture.mold import LIMIT, ashrae_160
from lapwright.moisture.run import Run
from lapwright.moisture.wood import DECAY_PCT, DRY_PCT

Array = NDArray[Any]
LIKELY, POSSIBLE = 0.5, 0.1  # chance of mold or decay from which it is a stop, and a warn; own choice
YEAR_H = 8760
RISE_PCT = 1.0  # moisture content (percent) by which a second year's mean must pass the first to count as ratcheting up
MARGIN_INDEX = 1.0  # mold index from which a dry verdict is told with its small margin
KEPT = 3.0  # hours between records


@dataclass(frozen=True)
class Place:
    """One face of one layer over the ensemble, second year on. peak_pct: moisture content of wood, the wettest week of
    the layer, median and 90th percentile of the members (None for other materials); index: mold index likewise;
    wet_days: days a year with more than 19 % in wood or 90 % humidity; trend: `dries each summer` or `ratchets up`;
    fails: members past a limit; month: of the peak, 1..12."""

    spot: Spot
    face: str
    peak_pct: tuple[float, float] | None
    index: tuple[float, float]
    wet_days: float
    rise_pct: float
    fails: NDArray[np.bool_]
    month: int

    @property
    def trend(self) -> str:
        """Whether it dries again or gets wetter from year to year."""
        return "ratchets up" if self.rise_pct > RISE_PCT else "dries each summer"

    def to_json(self) -> dict[str, Any]:
        """Return the figures as the document holds them."""
        peak = self.peak_pct
        return {
            "layer": self.spot.name, "face": self.face,
            "moisture_peak_pct": None if peak is None else {"median": _r(peak[0]), "p90": _r(peak[1])},
            "mold_index": {"median": _r(self.index[0]), "p90": _r(self.index[1])},
            "wet_days_a_year": round(self.wet_days), "trend": self.trend, "peak_month": self.month,
            "chance": _r(float(self.fails.mean())),
        }  # fmt: skip


def places(built: Built, run: Run, cols: Array, records_per_year: int) -> list[Place]:
    """Return every judged place of a wall. cols: its members in the run."""
    out = []
    for spot in built.spots:
        if not spot.judged or spot.generic is None:
            continue
        content = run.water[spot.index][:, cols]
        for face in ("outer", "inner"):
            t, phi = (x[:, cols] for x in run.at(spot.index, face))
            out.append(_place(spot, face, t, phi, content, records_per_year))
    return out


def _place(spot: Spot, face: str, t: Array, phi: Array, content: Array, year: int) -> Place:
    generic = spot.generic
    assert generic is not None
    hourly = int(KEPT)
    index = ashrae_160(np.repeat(t, hourly, axis=0), np.repeat(np.minimum(phi, 1.0), hourly, axis=0), generic.mold)
    top = index.max(axis=0)
    week = max(year * 7 // 365, 1)
    second = slice(-year, None)
    if generic.wood:
        pct = 100 * content / generic.material.density
        smooth = _running(pct, week)
        peak = smooth[second].max(axis=0)
        rise = _summer(pct[second]) - _summer(pct[:-year]) if len(pct) >= 2 * year else np.zeros(len(peak))
        wet = (pct[second] > DRY_PCT).mean(axis=0) * 365
        fails = (top >= LIMIT) | (peak >= DECAY_PCT)
        at = int(np.median(smooth[second].argmax(axis=0)))
        shown: tuple[float, float] | None = (float(np.median(peak)), float(np.quantile(peak, 0.9)))
    else:
        peak, rise = top, np.zeros(len(top))
        wet = (phi[second] > 0.9).mean(axis=0) * 365
        fails, shown = top >= LIMIT, None
        at = int(np.median(phi[second].argmax(axis=0)))
    month = (9 + int(at / year * 12)) % 12 + 1  # records begin on 1 October
    return Place(
        spot, face, shown, (float(np.median(top)), float(np.quantile(top, 0.9))), float(wet.mean()), float(np.median(rise)),
        fails, month,
    )  # fmt: skip


def _summer(pct: Array) -> Array:
    """Return each member's driest month of a year: what is left when the year has had its chance to dry."""
    month = max(len(pct) // 12, 1)
    return np.asarray(_running(pct, month).min(axis=0))


def _running(x: Array, width: int) -> Array:
    total = np.cumsum(np.concatenate([np.zeros((1, *x.shape[1:])), x]), axis=0)
    return np.asarray((total[width:] - total[:-width]) / width)


@dataclass(frozen=True)
class Verdict:
    """level, and the place that governs; chance of mold or decay with its 95 % sampling interval."""

    level: Level | None
    governs: Place | None
    chance: float
    low: float
    high: float

    @property
    def word(self) -> str:
        """`stop`, `warn`, `note` or `ok`, as the document has it."""
        return self.level or "ok"


def verdict(found: list[Place]) -> Verdict:
    """Return what the places say together: a member fails when any of its places does."""
    if not found:
        return Verdict("note", None, 0.0, 0.0, 1.0)
    fails = np.any([p.fails for p in found], axis=0)
    n, k = len(fails), int(fails.sum())
    low = float(beta.ppf(0.025, k, n - k + 1)) if k else 0.0
    high = float(beta.ppf(0.975, k + 1, n - k)) if k < n else 1.0
    worst = max(found, key=lambda p: (float(p.fails.mean()), p.index[1], (p.peak_pct or (0.0, 0.0))[1]))
    chance = k / n
    level: Level | None = None
    if chance >= LIKELY:
        level = "stop"
    elif chance >= POSSIBLE or any(p.trend == "ratchets up" and (p.peak_pct or (0, 0))[1] > DRY_PCT for p in found):
        level = "warn"
    elif worst.index[1] >= MARGIN_INDEX or any((p.peak_pct or (0, 0))[1] > DRY_PCT for p in found):
        level = "note"
    return Verdict(level, worst, chance, low, high)


MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December")  # fmt: skip


def sentence(v: Verdict, case: str) -> str:
    """Return one plain sentence: what happens where, how likely. Never that a wall is safe."""
    p = v.governs
    if p is None:
        return f"{case}: nothing was judged, since no layer behind the cladding is of a material whose rot or mold is known."
    face = "outer" if p.face == "outer" else "inner"
    at = f"the {face} face of the {p.spot.kind} ({worded(p.spot.name)})"
    wet = f", up to {p.peak_pct[1]:.0f} % of its dry weight in water in {MONTHS[p.month - 1]}" if p.peak_pct else f", worst in {MONTHS[p.month - 1]}"
    odds = f"in {round(v.chance * len(p.fails))} of {len(p.fails)} tries mold or decay starts"
    margin = f"mold index up to {p.index[1]:.1f} (mold shows from {LIMIT:.0f} on, 6 is the top)"
    return f"{case}: {odds}; {at} governs{wet}, {margin}."


def matters(fails_or_peak: Array, unit: Array, names: tuple[str, ...]) -> list[dict[str, Any]]:
    """Return the unknowns by share of the spread of ranks each explains alone (squared rank correlation), largest first.

    Few members make it rough: 1/(n-1) of it is luck, and what is below that is left out.
    """
    n = len(fails_or_peak)
    if n < 8 or float(np.ptp(fails_or_peak)) < 1e-9:
        return []
    y = rankdata(fails_or_peak)
    rows = []
    for k, name in enumerate(names):
        x = unit[:, k]
        share = float(np.corrcoef(rankdata(x), y)[0, 1] ** 2)
        if k == 0:  # a direction has no order: two waves instead
            waves = np.column_stack([np.ones(n), np.cos(2 * np.pi * x), np.sin(2 * np.pi * x)])
            rest = y - waves @ np.linalg.lstsq(waves, y, rcond=None)[0]
            share = float(1 - rest.var() / y.var())
        if share > 2.0 / (n - 1):
            rows.append({"unknown": name, "share": _r(share)})
    return sorted(rows, key=lambda r: -r["share"])


def _r(x: float) -> float:
    return float(f"{x:.3g}")
