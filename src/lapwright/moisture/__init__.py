"""Heat and moisture through a wall in one dimension by EN 15026. Arrays in, arrays out; it knows no house.

`simulate(walls, climates)` is the door; its docstring shows a whole wall.
"""

from lapwright.moisture.march import Pace
from lapwright.moisture.material import Material
from lapwright.moisture.run import GridError, Run, grid_error, simulate
from lapwright.moisture.wall import Climate, Drip, Exchange, Layer, Membrane, Wall

__all__ = [
    "Climate", "Drip", "Exchange", "GridError", "Layer", "Material", "Membrane", "Pace", "Run", "Wall", "grid_error",
    "simulate",
]  # fmt: skip
