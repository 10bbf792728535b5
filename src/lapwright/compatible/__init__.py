"""What may not touch what: materials of the laps, of what stands, of one make-up; limits of season and exposure."""

from lapwright.compatible.bond import Bonds
from lapwright.compatible.check import findings
from lapwright.compatible.rules import Rule, builtin, rules

__all__ = ["Bonds", "Rule", "builtin", "findings", "rules"]
