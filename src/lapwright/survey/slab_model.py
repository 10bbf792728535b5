"""A floor on the ground as it stands and as it is wanted, in SI floats."""

from __future__ import annotations

from dataclasses import dataclass, field

from lapwright.findings import Where


@dataclass(frozen=True)
class SlabThing:
    """A post or pipe that comes through the floor: center and size seen from above, metres."""

    id: str
    kind: str  # post | pipe | drain | sump
    at: tuple[float, float]
    size: tuple[float, float]
    where: Where = field(default_factory=Where)


@dataclass(frozen=True)
class FootOfWall:
    """What stands beside the dig. foot_m: depth of its inner bottom below the old floor; None = nobody has looked."""

    kind: str = ""  # concrete | block | stone | brick
    foot_m: float | None = None
    footing: bool | None = None
    bowed: bool | None = None
    wet: bool | None = None  # wet soil behind it
    soil: str = ""  # clay | silt | sand | gravel


@dataclass(frozen=True)
class Slab:
    """One floor on the ground. Lengths in metres, loads in Pa and kg, R in m2 K/W; None = not given.

    outline: corners seen from above, counter-clockwise. now_m: old floor to the underside of what is overhead;
    wanted_m: the same when done; dig_m: how deep below the top of the old floor; old_m: thickness of the old slab.
    """

    id: str
    outline: tuple[tuple[float, float], ...]
    assembly: str | None
    now_m: float | None = None
    wanted_m: float | None = None
    dig_m: float | None = None
    old_m: float = 0.0
    finish_m: float = 0.0
    foot: FootOfWall = field(default_factory=FootOfWall)
    live_pa: float | None = None
    point_kg: float | None = None
    wanted_r: float | None = None
    water_limit_pct: float | None = None
    water_seen: bool | None = None
    things: tuple[SlabThing, ...] = ()
    tube_spacing_m: float | None = None
    where: Where = field(default_factory=Where)
    finish_pa: float | None = None  # what the flooring weighs
