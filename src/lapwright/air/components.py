"""Published leakage of building components: effective leakage area at 4 Pa, discharge 1.

The rows are those of the table "Effective air leakage areas, low-rise residential applications only" of the ASHRAE
Handbook Fundamentals (ch. 25 in 1997, ch. 26 in 2001, taken over into ch. 16; its data are from laboratory and
house tests of the 1970s to 1990s). `standing` tells how each row was come by: "from memory" is recalled and not
compared with print; "best value seen" means that the best value was also found in a public program's copy.
Houses differ by far more than the digits; a sum over many items is good to a factor of about two.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Per = Literal["each", "m", "m2"]
SOURCE = "ASHRAE Handbook Fundamentals, effective air leakage areas at 4 Pa"
MEMORY = "from memory"
SEEN = "best value seen, range from memory"
N_COMPONENT = 0.65  # exponent to carry leakage areas to other pressures: ASHRAE Handbook Fundamentals (from memory)


@dataclass(frozen=True)
class Component:
    """Leakage area of one component, cm2 each, per metre of joint or sash, or per m2: best guess, low, high."""

    id: str
    what: str
    per: Per
    best: float
    low: float
    high: float
    standing: str = MEMORY


@dataclass(frozen=True)
class Range:
    """A leakage area in cm2: best guess, everything at its low end, everything at its high end."""

    best: float
    low: float
    high: float

    def __add__(self, other: Range) -> Range:
        return Range(self.best + other.best, self.low + other.low, self.high + other.high)


COMPONENTS: dict[str, Component] = {
    item.id: item
    for item in (
        # Joints, per metre.
        Component("ceiling_wall_joint", "joint of ceiling and wall", "m", 1.5, 0.16, 2.5),
        Component("sole_plate_open", "sole plate on the floor, not caulked", "m", 4.0, 0.38, 5.6),
        Component("sole_plate_sealed", "sole plate on the floor, caulked", "m", 0.8, 0.075, 1.2),
        Component("top_plate", "top plate or band joist", "m", 0.1, 0.075, 0.38),
        # Frames against the wall, per m2 of window or door.
        Component("window_frame_open", "window frame in a wood wall, not caulked", "m2", 1.7, 1.5, 2.7, SEEN),
        Component("window_frame_sealed", "window frame in a wood wall, caulked", "m2", 0.3, 0.3, 0.5, SEEN),
        Component("door_frame_open", "door frame in a wood wall, not caulked", "m2", 1.7, 0.6, 1.7, SEEN),
        Component("door_frame_sealed", "door frame in a wood wall, caulked", "m2", 0.3, 0.1, 0.3, SEEN),
        # Windows per metre of sash, doors each.
        Component("sash_loose", "double-hung window, no weatherstrip", "m", 2.5, 0.86, 6.1),
        Component("sash_tight", "double-hung window, weatherstripped", "m", 0.65, 0.2, 1.9),
        Component("door_loose", "single door, no weatherstrip", "each", 21.0, 12.0, 53.0),
        Component("door_tight", "single door, weatherstripped", "each", 12.0, 4.0, 27.0),
        # Walls, ceilings, floors, per m2.
        Component("wall_barrier", "wall with a continuous air barrier", "m2", 0.15, 0.055, 0.21),
        Component("wall_sheathing", "wall with rigid sheathing, no barrier", "m2", 0.35, 0.29, 0.41),
        Component("ceiling", "ceiling under an attic", "m2", 1.8, 0.79, 2.8, SEEN),
        Component("crawl_floor", "floor over a crawl space", "m2", 2.2, 0.4, 4.9),
        # What goes through, each.
        Component("pipe_open", "pipe or wire through the wall, not caulked", "each", 6.0, 2.0, 24.0),
        Component("pipe_sealed", "pipe or wire through the wall, caulked", "each", 2.0, 1.0, 2.0),
        Component("outlet", "electrical box, no gasket", "each", 2.5, 0.5, 6.2, SEEN),
        Component("outlet_gasket", "electrical box with gasket", "each", 0.15, 0.08, 3.5),
        Component("bath_vent", "bath fan, damper closed", "each", 10.0, 2.5, 20.0),
        Component("dryer_vent", "dryer vent with damper", "each", 3.0, 2.9, 7.0),
        Component("kitchen_vent", "range hood, damper closed", "each", 5.0, 1.0, 7.0),
        Component("chimney", "chimney through the ceiling", "each", 29.0, 21.0, 36.0),
        Component("boiler", "boiler or furnace with draft hood and stack damper", "each", 30.0, 20.0, 30.0),
        Component("water_heater", "gas water heater with draft hood", "each", 20.0, 15.0, 25.0),
    )
}  # fmt: skip


def leakage_cm2(component: Component, amount: float) -> Range:
    """Return the leakage area of an amount (count, metres or m2, >= 0) of a component. Raises ValueError."""
    if not amount >= 0.0:
        raise ValueError("an amount must not be less than 0")
    return Range(component.best * amount, component.low * amount, component.high * amount)


def total_cm2(items: Iterable[tuple[str, float]]) -> Range:
    """Return the sum over (component id, amount); all low or all high at once, so the true range is narrower.

    Raises KeyError for an unknown id.

    >>> total_cm2([("sole_plate_open", 10.0), ("chimney", 1)])
    Range(best=69.0, low=24.8, high=92.0)
    """
    out = Range(0.0, 0.0, 0.0)
    for name, amount in items:
        out += leakage_cm2(COMPONENTS[name], amount)
    return out
