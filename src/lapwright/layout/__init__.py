"""Claims in, pieces out: the only place that shapes material.

`lay` takes all claims of a job at once, all faces of a loop unrolled round the corners, and returns
pieces, laps, cuts, chalk lines and ties.
"""

from lapwright.layout.build import Layout, lay

__all__ = ["Layout", "lay"]
