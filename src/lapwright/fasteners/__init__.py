"""Which screw holds furring through foam: from the layers of a wall and its loads to a size, a spacing, a length."""

from lapwright.fasteners.choose import Design, design
from lapwright.fasteners.wall import Loads, Wall, loads_of, wall_of

__all__ = ["Design", "Loads", "Wall", "design", "loads_of", "wall_of"]
