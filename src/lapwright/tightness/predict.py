"""What the house should leak by its ties: published leakage of components times lengths, areas and counts.

A tie counts as sealed when its air layer is tied, as open when it is not. What has no published row is named, not
guessed at.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from lapwright import air
from lapwright.air.components import COMPONENTS, N_COMPONENT, SOURCE, Component
from lapwright.geometry import merged
from lapwright.survey.areas import plan_ring
from lapwright.survey.model import Opening, Penetration, Survey
from lapwright.tightness.cautions import SEALED
from lapwright.tightness.words import figure

Tie = Mapping[str, Any]  # a row of the contract's ties[]
# Kind of joint -> (component when open, component when tied; None: within the wall's own figure).
JOINTS: Mapping[str, tuple[str, str | None]] = {
    "base": ("sole_plate_open", "sole_plate_sealed"),
    "top": ("ceiling_wall_joint", "top_plate"),
    "other": ("ceiling_wall_joint", None),  # corners, old to new, roofs against the wall: the nearest published row
}
JOINT_WORDS: Mapping[str, str] = {
    "base": "foot of the wall",
    "top": "top of the wall",
    "other": "corners, roofs, old to new",
    "frame": "round windows and doors",
}
VENTS: tuple[tuple[str, str], ...] = (
    ("dryer", "dryer_vent"),
    ("bath", "bath_vent"),
    ("range", "kitchen_vent"),
    ("hood", "kitchen_vent"),
    ("kitchen", "kitchen_vent"),
)


@dataclass
class _Sum:
    """Amounts by component, lengths and ids of open ties by kind of joint, and what could not be counted."""

    amounts: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    open_m: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    open_cm2: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    open_ids: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    left_out: list[str] = field(default_factory=list)


def predict(
    ties: Iterable[Tie], survey: Survey, volume_m3: float | None = None, as_found: bool = False
) -> dict[str, Any]:
    """Return the leakage area that the ties, openings, walls and holes of a house add up to, with its range.

    ties: rows of the contract's `ties[]` (id, sides, length_m, air). as_found: the house before the work: every
    tie open, every unit loose, no barrier anywhere. The answer: `ela4_cm2`, `flow50_m3_h` and (with a volume)
    `ach50`, each {best, low, high}; `items`, one row per component; `open_ties` by kind of joint; `left_out`;
    `source`. Low and high have every component at its end at once: true houses lie nearer the middle.
    """
    total = _Sum()
    frames = _ties(ties, survey, total, as_found)
    _openings(survey, total, frames, as_found)
    _walls(survey, total, as_found)
    _rest(survey, total)
    items = [_item(COMPONENTS[name], amount) for name, amount in total.amounts.items() if amount > 0.0]
    area = air.total_cm2((name, amount) for name, amount in total.amounts.items())
    return _answer(area, items, total, volume_m3)


def _answer(area: air.Range, items: list[dict[str, Any]], total: _Sum, volume_m3: float | None) -> dict[str, Any]:
    ends = {"best": area.best, "low": area.low, "high": area.high}
    flows = {k: air.flow_of_area_m3_h(v / 1e4, 50.0, N_COMPONENT, 4.0) for k, v in ends.items()}
    out: dict[str, Any] = {
        "ela4_cm2": {k: figure(v) for k, v in ends.items()},
        "flow50_m3_h": {k: figure(v) for k, v in flows.items()},
        "ach50": {k: figure(v / volume_m3) for k, v in flows.items()} if volume_m3 else None,
        "items": sorted(items, key=lambda i: (-i["best_cm2"], i["component"])),
        "open_ties": [
            {
                "joint": kind,
                "words": JOINT_WORDS[kind],
                "length_m": round(total.open_m[kind], 4),
                "extra_cm2": figure(total.open_cm2[kind]),
                "ties": total.open_ids[kind],
            }
            for kind in sorted(total.open_m, key=lambda k: (-total.open_cm2[k], k))
        ],
        "left_out": list(dict.fromkeys(total.left_out)),
        "source": SOURCE,
    }
    return out


def _item(component: Component, amount: float) -> dict[str, Any]:
    area = air.leakage_cm2(component, amount)
    return {
        "component": component.id,
        "what": component.what,
        "amount": figure(amount),
        "per": component.per,
        "best_cm2": figure(area.best),
        "low_cm2": figure(area.low),
        "high_cm2": figure(area.high),
        "standing": component.standing,
    }


def _things(survey: Survey) -> dict[str, Opening | Penetration]:
    """Return openings and penetrations of outside walls by place id ("front/w1")."""
    out: dict[str, Opening | Penetration] = {}
    for face in survey.faces:
        if face.kind == "wall" and face.adjoins == "outside":
            out.update({f"{face.id}/{o.id}": o for o in face.openings})
            out.update({f"{face.id}/{p.id}": p for p in face.penetrations})
    return out


def _ties(ties: Iterable[Tie], survey: Survey, total: _Sum, as_found: bool) -> dict[str, list[float]]:
    """Add the ties; return per opening [tied length, open length], and mark each penetration's tie as counted."""
    things = _things(survey)
    frames: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])
    seen: set[str] = set()
    for tie in ties:
        if tie["air"] == "none":
            continue
        tied = tie["air"] == "tied" and not as_found
        length = float(tie["length_m"])
        name = next((s for s in tie["sides"] if s in things), None)
        thing = things[name] if name else None
        if name and isinstance(thing, Opening):
            frames[name][0 if tied else 1] += length
            if not tied:
                extra = _frame_extra(thing) * length / max(thing.polygon.exterior.length, 1e-9)
                _open(total, "frame", tie["id"], length, extra)
        elif name and isinstance(thing, Penetration):
            if name not in seen:
                _penetration(thing, total, tied)
            seen.add(name)
        else:
            kind = "base" if "foundation" in tie["sides"] else "top" if "roof" in tie["sides"] else "other"
            loose, tight = JOINTS[kind]
            if tied and tight:
                total.amounts[tight] += length
            elif not tied:
                total.amounts[loose] += length
                extra = COMPONENTS[loose].best - (COMPONENTS[tight].best if tight else 0.0)
                _open(total, kind, tie["id"], length, extra * length)
    for name, thing in things.items():
        if isinstance(thing, Penetration) and name not in seen:
            _penetration(thing, total, tied=False)
    return frames


def _open(total: _Sum, kind: str, tie: str, length: float, extra: float) -> None:
    total.open_m[kind] += length
    total.open_cm2[kind] += extra
    total.open_ids[kind].append(tie)


def _frame(opening: Opening, tied: bool) -> str:
    return f"{'door' if opening.kind == 'door' else 'window'}_frame_{'sealed' if tied else 'open'}"


def _frame_extra(opening: Opening) -> float:
    """Return what an open frame leaks more than a sealed one, cm2."""
    best = COMPONENTS[_frame(opening, False)].best - COMPONENTS[_frame(opening, True)].best
    return best * float(opening.polygon.area)


def _openings(survey: Survey, total: _Sum, frames: Mapping[str, list[float]], as_found: bool) -> None:
    for name, opening in _things(survey).items():
        if not isinstance(opening, Opening):
            continue
        tied, loose = frames.get(name, [0.0, 0.0])
        share = tied / (tied + loose) if tied + loose > 0.0 else 0.0
        area = float(opening.polygon.area)
        total.amounts[_frame(opening, True)] += area * share
        total.amounts[_frame(opening, False)] += area * (1.0 - share)
        old = as_found or opening.state == "kept"
        if opening.kind == "door":
            total.amounts["door_loose" if old else "door_tight"] += 1.0
        else:
            left, sill, right, head = opening.box
            # Two sashes that meet at a rail: both sides, head, sill and the rail between.
            total.amounts["sash_loose" if old else "sash_tight"] += 2.0 * (head - sill) + 3.0 * (right - left)


def _penetration(thing: Penetration, total: _Sum, tied: bool) -> None:
    vent = next((c for word, c in VENTS if word in thing.through.lower()), None)
    if thing.kind == "duct" and vent:
        total.amounts[vent] += 1.0
    elif thing.kind == "box":
        total.amounts["outlet_gasket" if tied else "outlet"] += 1.0
    elif thing.kind == "bracket":
        total.left_out.append("brackets: screws through the wall have no published row")
    else:
        total.amounts["pipe_sealed" if tied else "pipe_open"] += 1.0


def _walls(survey: Survey, total: _Sum, as_found: bool) -> None:
    for face in survey.faces:
        if face.kind != "wall" or face.adjoins != "outside":
            continue
        holes = merged(o.polygon for o in face.openings)
        for zone in face.zones:
            old = as_found or zone.decision == "keep"
            net = float(zone.polygon.difference(holes).area)
            total.amounts["wall_sheathing" if old else "wall_barrier"] += net
            if old:
                total.left_out.append(
                    "boards that gap: old board sheathing has no published row; rigid sheathing stands for it"
                )
        total.amounts["chimney"] += sum(a.kind == "chimney" for a in face.attachments)


def _rest(survey: Survey, total: _Sum) -> None:
    """Add ceilings, floors and fires; say what has no row or no taped size."""
    on_loops = {s.loop for s in survey.storeys}
    rings = {loop.id: plan_ring(survey, loop) for loop in survey.loops}
    total.amounts["ceiling"] += sum(r.area for k, r in rings.items() if r is not None and k in on_loops)
    for name, ring in rings.items():
        if ring is None:
            total.left_out.append(f"ceiling and floor of {name}: its walls do not close on the plan")
    lowest = survey.lowest_floor.kind if survey.lowest_floor else None
    if lowest == "crawl":
        total.amounts["crawl_floor"] += sum(r.area for k, r in rings.items() if r is not None and k in on_loops)
    else:
        total.left_out.append(f"{lowest or 'lowest floor'}: no published row for its walls, rim and floor")
    for fire in (f.lower() for f in survey.fuel_burning):
        if not any(w in fire for w in SEALED):
            total.amounts["boiler"] += float("boiler" in fire or "furnace" in fire)
            total.amounts["water_heater"] += float("water heater" in fire)
    total.left_out.append("inside leaks to attic and basement: hatches, chases, open bays of balloon frames")
