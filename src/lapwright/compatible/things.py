"""What a thing is made of, as words that rules ask for: of a product, of a layer that stands, of a piece.

A word that nobody gave counts as `not given`, which a rule may ask for too.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from lapwright.catalog.model import Catalog, Product
from lapwright.scope.model import Layer

NOT_GIVEN = "not given"
PERM = 57.2135e-12  # kg/(s m2 Pa): one US perm
CLASS_I, CLASS_II, CLASS_III = 0.1, 1.0, 10.0  # perms, IRC R702.7 (2021), from memory
XPS_PERM_IN = 1.1  # perms of one inch of XPS: ASTM C578 most for the types here, from memory
IN = 0.0254

# Stuff by the words that name it in an id, title or material; the first that fits in each group counts.
STUFF: Mapping[str, tuple[str, ...]] = {
    "felt": ("felt", "tar paper", "asphalt paper"),
    "osb": ("osb", "oriented strand"),
    "plywood": ("plywood", "plywood panel"),
    "board": ("boards", "board", "wood", "plank", "furring"),
    "concrete": ("concrete", "cement block"),
    "masonry": ("brick", "stone", "masonry", "block wall", "concrete block", "stucco", "mortar"),
    "polystyrene": ("xps", "eps", "polystyrene"),
    "polyiso": ("polyiso", "polyisocyanurate"),
    "soft vinyl": ("soft vinyl", "flexible vinyl", "vinyl sheet", "pvc membrane"),
    "foil": ("foil", "foil faced"),
    "poly": ("poly", "polyethylene", "poly retarder 10"),
    "kraft": ("kraft",),
}
NO_BOARD = ("mineral wool", "foam", "gypsum", "cement", "fiber cement", "insulation")  # boards that are no wood
FINISHES = ("stainless", "galvanized", "coated", "copper", "bronze", "aluminum", "plain")
TRAITS = (
    *("product", "layer", "role", "held", "existing", "stuff", "class"),
    *("adhesive", "metal", "vapor", "treated", "solvent", "sealant base", "flange of", "finish"),
)


@dataclass(frozen=True)
class Thing:
    """One of the two things of a rule. name: as a carpenter calls it; traits: words by trait, `not given` where none."""

    key: str
    name: str
    traits: Mapping[str, frozenset[str]]

    def has(self, conditions: Mapping[str, frozenset[str]]) -> bool:
        """Return whether every condition holds: one of its words is among the thing's words for that trait."""
        return all(not words.isdisjoint(self.traits[trait]) for trait, words in conditions.items())


class Stuff(Protocol):
    """What is asked of a piece: what it is made of, what it is there for, what holds it."""

    @property
    def product(self) -> str | None: ...
    @property
    def layer(self) -> str: ...
    @property
    def role(self) -> str: ...
    @property
    def held(self) -> str: ...


def _of(words: frozenset[str] | set[str]) -> frozenset[str]:
    return frozenset(words) or frozenset({NOT_GIVEN})


def stuff_of(*names: str) -> frozenset[str]:
    """Return what the names say a thing is made of.

    >>> sorted(stuff_of("osb-panel", "OSB sheathing, 7/16 in")), sorted(stuff_of("mineral-wool-board"))
    (['osb'], ['not given'])
    """
    said = " ".join(re.sub(r"[^a-z0-9]+", " ", n.lower()).strip() for n in names if n)
    found = {stuff for stuff, words in STUFF.items() if any(re.search(rf"\b{w}\b", said) for w in words)}
    if "board" in found and (any(w in said for w in NO_BOARD) or found & {"polystyrene", "polyiso", "osb", "plywood"}):
        found.discard("board")
    return _of(found)


def finish_of(product: Product) -> frozenset[str]:
    """Return the finish of a fastener: as given, else as its title says."""
    given = product.word("finish")
    said = f"{given or product.title} {'' if given else product.id}".lower()
    return _of({f for f in FINISHES if f in said} | ({given.lower()} if given else set()))


def class_of_perms(perms: float) -> str:
    """Return the vapor retarder class: I, II, III or open.

    >>> class_of_perms(0.06), class_of_perms(0.5), class_of_perms(5), class_of_perms(50)
    ('I', 'II', 'III', 'open')
    """
    for name, most in (("I", CLASS_I), ("II", CLASS_II), ("III", CLASS_III)):
        if perms <= most:
            return name
    return "open"


def vapor_class(
    stuff: frozenset[str], vapor: str, permeance: float | None, thickness_m: float | None
) -> frozenset[str]:
    """Return the vapor class of a layer: by its permeance, kg/(s m2 Pa), else by what it is, else not given.

    Foil, poly and sheets called shut are Class I; XPS by its thickness, metres; kraft facing Class II (from memory).
    """
    if permeance is not None:
        return frozenset({class_of_perms(permeance / PERM)})
    if vapor in ("responsive", "open"):
        return frozenset({vapor})
    if "polystyrene" in stuff and thickness_m:
        return frozenset({class_of_perms(XPS_PERM_IN / (thickness_m / IN))})
    if vapor == "shut" or stuff & {"foil", "poly", "soft vinyl"}:
        return frozenset({"I"})
    return frozenset({"II"}) if "kraft" in stuff else frozenset({NOT_GIVEN})


class Things:
    """Makes things of one job's products, layers and pieces."""

    def __init__(self, catalog: Catalog) -> None:
        self.catalog = catalog
        self._products: dict[tuple[str, str], Thing] = {}
        self._pieces: dict[tuple[str, ...], Thing] = {}

    def product(self, product_id: str, layer: str = "") -> Thing | None:
        """Return a product as a thing, or None when the catalog does not hold it. layer: where it is used."""
        if product_id not in self.catalog:
            return None
        key = (product_id, layer)
        if key not in self._products:
            product = self.catalog[product_id]
            self._products[key] = Thing(product_id, _plain(product.title), _traits(product, layer or product.layer))
        return self._products[key]

    def layer(self, layer: Layer) -> Thing:
        """Return a layer of a make-up as a thing."""
        made = self.product(layer.product, layer.layer) if layer.product else None
        name = made.name if made else (layer.material or layer.layer).replace("-", " ")
        traits = dict(made.traits) if made else _blank(layer.layer)
        if made is None:
            traits["stuff"] = stuff_of(layer.material or "")
            if "treated" in (layer.material or ""):
                traits["treated"] = frozenset({"yes"})
        if layer.layer in ("masonry", "slab") and layer.product is None:
            traits["stuff"] = (traits["stuff"] - {NOT_GIVEN}) | {"masonry" if layer.layer == "masonry" else "concrete"}
        traits["existing"] = frozenset({"yes" if layer.existing else "no"})
        vapor = next(iter(traits["vapor"]))
        thick = layer.thickness_m
        if thick is None and made is not None:
            thick = self.catalog[layer.product or ""].number("thickness_m")
        traits["class"] = vapor_class(traits["stuff"], vapor, layer.permeance, thick)
        return Thing(layer.product or layer.material or layer.layer, f"{name} that stands" if layer.existing else name, traits)

    def piece(self, piece: Stuff) -> Thing:
        """Return a piece as a thing: its product, or what its role says that stands."""
        key = (piece.product or "", piece.layer, piece.role, piece.held)
        if key not in self._pieces:
            self._pieces[key] = self._piece(piece)
        return self._pieces[key]

    def _piece(self, piece: Stuff) -> Thing:
        made = self.product(piece.product, piece.layer) if piece.product else None
        name = piece.role.replace("-", " ")
        traits = dict(made.traits) if made else _blank(piece.layer)
        if made is None:
            traits["stuff"] = stuff_of(piece.role)
            traits["existing"] = frozenset({"yes" if piece.layer == "existing" else "no"})
        traits["role"], traits["held"] = frozenset({piece.role}), frozenset({piece.held})
        return Thing(f"{piece.product or ''}:{piece.layer}:{piece.role}:{piece.held}", made.name if made else name, traits)


def _plain(title: str) -> str:
    """Return a title as it stands in a sentence: `flashing tape, 4 in, acrylic`."""
    first = title.split(" ", 1)[0]
    return title if first.isupper() and len(first) > 1 else title[:1].lower() + title[1:]


def _blank(layer: str) -> dict[str, frozenset[str]]:
    return {t: frozenset({NOT_GIVEN}) for t in TRAITS} | {"layer": frozenset({layer})}


def _traits(product: Product, layer: str) -> dict[str, frozenset[str]]:
    traits = _blank(layer)
    traits["product"] = frozenset({product.id})
    traits["existing"] = frozenset({"no"})
    for trait in ("adhesive", "metal", "vapor", "treated", "solvent", "sealant base", "flange of"):
        said = product.word(trait.replace(" ", "_")).lower()
        traits[trait] = _of(set(re.split(r"\s*(?:,|\band\b)\s*", said)) - {""})
    if product.layer == "fastener":
        traits["finish"] = finish_of(product)  # its title may name what it holds, which it is not made of
    else:
        traits["stuff"] = stuff_of(product.id, product.title)
    thick = product.number("thickness_m")
    traits["class"] = vapor_class(traits["stuff"], product.word("vapor"), None, thick)
    return traits
