"""Cuts: flats laid on rolls, sheets and lengths, with bounds no packing can beat. Entry: `pack`."""

from lapwright.cuts.diagram import Drawn, diagram
from lapwright.cuts.model import Bound, Packing, StockUnit
from lapwright.cuts.pack import pack

__all__ = ["Bound", "Drawn", "Packing", "StockUnit", "diagram", "pack"]
