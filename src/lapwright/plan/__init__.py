"""From a job to everything the job needs: a graph of named results, computed when asked."""

from lapwright.plan.graph import Plan

__all__ = ["Plan"]
