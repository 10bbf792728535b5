"""The job's walls as layers: the one door to the moisture reckoning. Layers become arrays, figures become findings."""

from lapwright.assemblies.report import report

__all__ = ["report"]
