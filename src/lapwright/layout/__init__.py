"""Claims in, pieces out: the only place that shapes material.

`lay` takes all claims of a job at once, all faces of a loop unrolled round the corners, and returns
pieces, laps, cuts, chalk lines and ties. `shape` and `finish` are its two halves: packing needs only the first.
"""

from lapwright.layout.build import Layout, Shaped, finish, lay, shape

__all__ = ["Layout", "Shaped", "finish", "lay", "shape"]
