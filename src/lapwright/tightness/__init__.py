"""Tightness: fan test readings of a job, before against after, against what its ties should leak."""

from lapwright.tightness.predict import predict
from lapwright.tightness.readings import Readings, parse_readings, read_readings
from lapwright.tightness.reconcile import reconcile
from lapwright.tightness.report import report
from lapwright.tightness.results import tests_of

__all__ = ["Readings", "parse_readings", "predict", "read_readings", "reconcile", "report", "tests_of"]
