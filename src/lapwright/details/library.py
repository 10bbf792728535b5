"""The details that come with the program."""

from __future__ import annotations

from lapwright.details.base import Detail
from lapwright.details.edges import Base, Corner, InsideCorner
from lapwright.details.fields import FastenedCourses, SelfAdheredCourses, TearOff
from lapwright.details.openings import UnitAfter, UnitBefore, UnitInsert, UnitKept

DETAILS: tuple[Detail, ...] = (
    TearOff(),
    SelfAdheredCourses(),
    FastenedCourses(),
    Base(),
    Corner(),
    InsideCorner(),
    UnitBefore(),
    UnitAfter(),
    UnitKept(),
    UnitInsert(),
)
