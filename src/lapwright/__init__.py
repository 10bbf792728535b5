"""Lapwright: one description of an old house in, everything a new water, air and thermal skin needs out."""

__version__ = "0.1.0"
