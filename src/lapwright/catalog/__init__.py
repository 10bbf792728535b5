"""What can be bought: generic products and materials, each value with its source."""

from lapwright.catalog.load import load
from lapwright.catalog.model import Catalog, Product, Value

__all__ = ["Catalog", "Product", "Value", "load"]
