"""What to buy and what it may cost: quantities, spare, packs, labor, an allowance for the unfound."""

from lapwright.order.build import build
from lapwright.order.model import Bid, Order, OrderRow

__all__ = ["Bid", "Order", "OrderRow", "build"]
