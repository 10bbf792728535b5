"""The details that come with the program."""

from __future__ import annotations

from lapwright.details.base import Detail
from lapwright.details.boundary_sides import EndOfSkin, OldBeside, OldBesideChannel, Seam
from lapwright.details.boundary_stacked import OldAbove, OldBelow
from lapwright.details.cladding import Cladding
from lapwright.details.edges import Base, Corner, InsideCorner
from lapwright.details.fields import FastenedCourses, SelfAdheredCourses, TearOff
from lapwright.details.furring import Furring
from lapwright.details.gap import Mat
from lapwright.details.ledgers import BellyBand, Chimney, DeckLedger
from lapwright.details.openings import UnitAfter, UnitBefore, UnitInsert, UnitKept
from lapwright.details.penetrations import PENETRATIONS
from lapwright.details.roofs import EaveOnWall, RoofAgainstWall, RoofReturn
from lapwright.details.sheets import Boards, Panels
from lapwright.details.slab import FloorOnGround
from lapwright.details.tops import EaveClosed, EaveOpen, EaveOpened, EaveVented, Rake

DETAILS: tuple[Detail, ...] = (
    TearOff(),
    Panels(),
    SelfAdheredCourses(),
    FastenedCourses(),
    Base(),
    Corner(),
    InsideCorner(),
    UnitBefore(),
    UnitAfter(),
    UnitKept(),
    UnitInsert(),
    EaveOpen(),
    EaveOpened(),
    EaveClosed(),
    EaveVented(),
    Rake(),
    OldBelow(),
    OldAbove(),
    OldBeside(),
    OldBesideChannel(),
    EndOfSkin(),
    Seam(),
    Boards(),
    Mat(),
    Furring(),
    Cladding(),
    *PENETRATIONS,
    RoofAgainstWall(),
    RoofReturn(),
    EaveOnWall(),
    DeckLedger(),
    BellyBand(),
    Chimney(),
    FloorOnGround(),
)
