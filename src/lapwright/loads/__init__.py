"""Loads and fasteners: wind on cladding, withdrawal, pull-through, lateral yield across a gap.

Numbers in, numbers out, SI; knows no house. The standards' formulas are empirical in pounds and inches; they are kept so
inside, and the conversion stands at the door of each function.
"""

from lapwright.loads.rows import Row

__all__ = ["Row"]
