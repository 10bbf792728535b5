"""What can hurt somebody: cautions beside the steps where they bite, and findings that stop the work.

Everything here defers to the local code and to licensed people, and nothing here is ever an all-clear.
"""

from lapwright.hazards.beside import beside, bites, holds
from lapwright.hazards.found import findings
from lapwright.hazards.rows import Cite, Row, table

__all__ = ["Cite", "Row", "beside", "bites", "findings", "holds", "table"]
