"""Small jobs for the order's tests: records made by hand, no reader and no layout needed."""

from __future__ import annotations

import os
from dataclasses import dataclass

from lapwright.catalog import Catalog, load
from lapwright.catalog.model import Product, Value
from lapwright.details.base import Cut, Piece, Step
from lapwright.geometry import box
from lapwright.order import Order, build
from lapwright.scope.model import Assembly, Layer, Scope
from lapwright.survey.model import Face, Place, Survey, Zone

FT = 0.3048
IN = 0.0254
SQ_FT = FT**2
BUILTIN = load()[0]
SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))


@dataclass(frozen=True)
class Roll:
    id: str
    product: str
    length_m: float
    width_m: float
    on_hand: bool = False


def catalog(**changes: dict[str, float | str | None]) -> Catalog:
    """The built-in catalog with values changed: catalog(mesh_mat={"price": 90.0})."""
    products = dict(BUILTIN.products)
    for name, values in changes.items():
        old = products[name.replace("_", "-")]
        new = {**old.values, **{k: Value(v, old.values[k].unit if k in old.values else "") for k, v in values.items()}}
        products[old.id] = Product(old.id, old.title, old.form, old.layer, new)
    return Catalog(products)


def survey() -> Survey:
    wall = box(0, 0, 20, 6)
    zones = (
        Zone("front/main", "front", wall, "remove", "boards"),
        Zone("front/new", "front", box(20, 0, 30, 6), "remove", "panels"),
    )
    face = Face("front", "main", 0, 30.0, 90.0, box(0, 0, 30, 6), None, None, (0.0, 0.0, 0.0), None, zones=zones)
    return Survey("test", "imperial", Place("somewhere"), (face,), ())


def scope(**changes) -> Scope:
    boards = Assembly(
        "boards", (Layer("barrier", "self-adhered-sheet"), Layer("sheathing", material="boards", existing=True))
    )
    panels = Assembly(
        "panels", (Layer("barrier", "self-adhered-sheet"), Layer("sheathing", material="plywood", existing=True))
    )
    return Scope(**{"assemblies": {"boards": boards, "panels": panels}, **changes})


def piece(name, product, polygon, layer="barrier", cut=None, claim=None, **facts) -> Piece:
    return Piece(
        name,
        "front",
        "face",
        polygon,
        product,
        layer,
        layer,
        cut,
        1,
        f"{name}/step",
        claim or name,
        "front",
        facts=facts,
    )


def cut(name, product, length, width, stock=None, along=0.0, across=0.0, turned=0) -> Cut:
    return Cut(name, product, box(0, 0, length, width), stock=stock, along_m=along, across_m=across, turned_deg=turned)


def step(name, hours, source, people=2, pieces=()) -> Step:
    return Step(name, "detail", "front", "do it", people, hours, source, pieces=tuple(pieces))


def order(pieces=(), cuts=(), stock=(), steps=(), scope_=None, catalog_=None) -> Order:
    return build(list(pieces), list(cuts), list(stock), list(steps), survey(), scope_ or scope(), catalog_ or BUILTIN)


def only(result: Order, product: str):
    (row,) = [r for r in result.rows if r.product == product]
    return row
