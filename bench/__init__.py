"""Speeds of this program as ratios to named general-purpose peers measured in the same run. `make bench`.

A ratio says more than seconds do: it holds from machine to machine. Nothing here passes or fails; the tests judge
what is right, this page says what it costs. Targets stand beside the figures.
"""
