"""Read a whole job: `house.yaml` to a `Job`, or a `BadJob` that tells everything that is wrong at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from lapwright.catalog.model import Catalog
from lapwright.catalog.rates import table as rate_table
from lapwright.findings import BadJob, Finding, Where
from lapwright.scope.built import read_built
from lapwright.scope.model import Assembly, Crew, Job, Layer, Scope, Setting
from lapwright.scope.schema import CrewBlock, HouseBlock, LayerBlock
from lapwright.survey.book import Book
from lapwright.survey.model import Survey
from lapwright.survey.read import resolve
from lapwright.survey.slabs import read_slabs
from lapwright.survey.words import did_you_mean, explain
from lapwright.yamlfile import Written, read_yaml

JOB_FILE = "house.yaml"


def read_job(path: Path, catalog: Catalog | None = None) -> Job:
    """Return the job at `path`: its folder, or its house.yaml.

    catalog: products by id, to check the names the job uses; with None names are not checked.
    Raises BadJob (exit status 2) with every finding when the file is malformed or contradicts itself.
    """
    file = _job_file(Path(path))
    return job_of(read_yaml(file), file, catalog)


def job_of(written: Written, file: Path, catalog: Catalog | None = None) -> Job:
    """Return the job of a file that was read already (or edited in memory). Raises BadJob."""
    book = Book(written)
    context = _context(written.data)
    try:
        house = HouseBlock.model_validate(written.data, context=context)
    except ValidationError as error:
        explain(error, HouseBlock, book)
        _products_as_written(written.data, catalog, book)
        book.close()
        raise AssertionError("a complaint is always fatal") from error
    survey = resolve(house, book, file.resolve().parent.name)
    survey = replace(survey, slabs=read_slabs(house.slabs, book, {f.id for f in house.faces}))
    scope = _scope(house, survey, file.parent, catalog, book)
    return Job(survey, scope, file.parent, file, book.close())


def _job_file(path: Path) -> Path:
    try:
        if not path.is_dir():
            return path
        inside = path / JOB_FILE
        if inside.is_file():
            return inside
    except (OSError, ValueError):
        return path
    raise BadJob(
        [
            Finding(
                "file.missing", "stop", f"There is no {JOB_FILE} in this folder.",
                fix=f"Give the folder of a job, or write a {JOB_FILE} there.", where=Where(file=JOB_FILE),
            )
        ]
    )  # fmt: skip


def _context(data: Mapping[str, Any]) -> dict[str, str | None]:
    """Return what lengths depend on, as far as it is readable; the schema complains about the rest."""
    bare, units = data.get("bare_numbers"), data.get("units")
    return {
        "bare": bare if bare in ("in", "ft", "mm", "cm", "m") else None,
        "units": "metric" if units == "metric" else "imperial",
    }


def _scope(house: HouseBlock, survey: Survey, folder: Path, catalog: Catalog | None, book: Book) -> Scope:
    names = _Names(house, survey, catalog, book)
    assemblies = {name: _assembly(name, layers, names, book) for name, layers in house.assemblies.items()}
    names.check_zones()
    names.check_places()
    for index, stock in enumerate(house.stock):
        names.product(stock.product, ("stock", index, "product"))
    for product in house.prices:
        names.product(product, ("prices", product))
    names.check_positions()
    for index, name in enumerate(house.own_details):
        _own_detail(name, folder, ("own_details", index), book)
    figures = _figures(house.settings, book)
    return Scope(
        assemblies=assemblies,
        details=dict(house.details),
        settings={name: {k: _si(f) for k, f in own.items()} for name, own in figures.items()},
        crew=_crew(house.crew, book),
        on_hand=tuple((s.product, s.length.m, s.width.m if s.width else None, s.count) for s in house.stock),
        built=read_built(house.built, folder, [f.id for f in house.faces], book),
        accept=tuple((a.code, a.place, a.reason) for a in house.accept),
        unfound_ratio=(house.unfound[0] / 100, house.unfound[1] / 100),
        currency=house.currency,
        prices=dict(house.prices),
        own_details=house.own_details,
        figures=figures,
        positions=dict(house.positions),
        typed=_typed(book.written.data.get("settings")),
    )


def _typed(settings: Any) -> dict[str, dict[str, object]]:
    """Return the settings as they stand in the file, for changes that take one out again."""
    rows = settings if isinstance(settings, dict) else {}
    return {str(k): dict(v) for k, v in rows.items() if isinstance(v, dict)}


def _figures(settings: Mapping[str, Mapping[str, Setting]], book: Book) -> dict[str, dict[str, Setting]]:
    """Return the settings with their places in the file; `course-lap` is `course_lap`."""
    return {
        name: {k.replace("-", "_"): replace(f, where=book.where(("settings", name, k))) for k, f in own.items()}
        for name, own in settings.items()
    }


def _si(figure: Setting) -> float | str:
    return figure.value if figure.length_m is None else figure.length_m


def _assembly(name: str, layers: tuple[LayerBlock, ...], names: _Names, book: Book) -> Assembly:
    path = ("assemblies", name)
    if not layers:
        book.bad("job.missing", path, f"The assembly {name} has no layers.", fix="List them, outside to inside.")
    out = []
    for index, block in enumerate(layers):
        here = (*path, index)
        if block.product is not None:
            names.product(block.product, (*here, "product"))
        if block.material is not None:
            names.material(block, (*here, "material"))
        if block.product is not None and block.material is not None:
            what = f"{name}: one layer names a product and a material."
            book.bad("job.choice", here, what, fix="Keep the product for what you buy, the material for what stands.")
        out.append(
            Layer(
                block.layer, block.product, block.material, block.thickness.m if block.thickness else None,
                block.existing, block.r, block.permeance, book.where(here),
            )
        )  # fmt: skip
    return Assembly(name, tuple(out), book.where(path))


class _Names:
    """Checks the names that one part of the file uses for another, or for the catalog."""

    def __init__(self, house: HouseBlock, survey: Survey, catalog: Catalog | None, book: Book) -> None:
        self.house = house
        self.survey = survey
        self.catalog = catalog
        self.book = book

    def product(self, name: str, path: tuple[str | int, ...]) -> None:
        """Refuse a product that the catalog does not hold."""
        if self.catalog is not None and name not in self.catalog:
            self._unknown(path, f"The catalog has no product {name}.", name, self.catalog.products)

    def material(self, block: LayerBlock, path: tuple[str | int, ...]) -> None:
        """Refuse a new layer of unknown material; say so of one that stands, or has its figures given."""
        name = block.material
        if self.catalog is None or name is None or name in self.catalog:
            return
        from lapwright.moisture.library import materials, membranes  # loads scipy: only for a name that is not bought

        if name in materials() or name in membranes():
            return
        what = f"The catalog has no material {name}."
        if block.existing or block.r is not None:
            self.book.say("note", "job.unknown_material", path, what, fix="Its figures are not known to the program.")
        else:
            self._unknown(path, what, name, self.catalog.products)

    def check_zones(self) -> None:
        """Refuse a new skin without an assembly, and one that is not listed."""
        for index, face in enumerate(self.house.faces):
            for i, opening in enumerate(face.openings):
                for name in ("unit", "buck"):
                    if getattr(opening, name) is not None:
                        self.product(getattr(opening, name), ("faces", index, "openings", i, name))
            rows = [(face.id, face.decision, face.assembly, ("faces", index))]
            rows += [
                (f"{face.id}/{z.id}", z.decision, z.assembly, ("faces", index, "zones", i))  # type: ignore[misc]
                for i, z in enumerate(face.zones)
            ]
            for label, decision, assembly, path in rows:
                self._zone(label, decision, assembly, path)

        for index, slab in enumerate(self.house.slabs):
            self._zone(slab.id, None if slab.assembly is None else "cover", slab.assembly, ("slabs", index))

    def _zone(self, label: str, decision: str | None, assembly: str | None, path: tuple[str | int, ...]) -> None:
        if assembly is not None and assembly not in self.house.assemblies:
            what = f"{label}: there is no assembly {assembly}."
            self._unknown((*path, "assembly"), what, assembly, self.house.assemblies)
        elif decision in ("remove", "cover") and assembly is None:
            self.book.bad(
                "job.missing", path, f"{label}: `{decision}` needs an `assembly`.", "It says what the new skin is.",
                f"Add `assembly: {next(iter(self.house.assemblies), 'new-skin')}`.",
            )  # fmt: skip
        elif decision is None and assembly is not None:
            what = f"{label} has an assembly but no decision."
            self.book.bad("job.missing", path, what, fix="Add `decision: remove` (or cover, or keep).")

    def check_positions(self) -> None:
        """Refuse a position for an assembly that is not there."""
        for name in self.house.positions:
            if name not in self.house.assemblies:
                self._unknown(("positions", name), f"There is no assembly {name}.", name, self.house.assemblies)

    def check_places(self) -> None:
        """Refuse a detail chosen for a face that is not there."""
        faces = {f.id for f in self.survey.faces} | {s.id for s in self.survey.slabs}
        for place in self.house.details:
            face = place.split("/")[0]
            if face not in faces:
                what = f"The place {place} is on no face of this job."
                self._unknown(("details", place), what, face, faces)

    def _unknown(self, path: tuple[str | int, ...], what: str, name: str, known: Iterable[str]) -> None:
        self.book.bad("job.unknown", path, what, fix=did_you_mean(name, known))


def _crew(block: CrewBlock | None, book: Book) -> Crew:
    if block is None:
        return Crew()
    known = rate_table()
    rates: dict[str, float] = {}
    for written, (measure, pace) in block.rates.items():
        name, path = written.replace("_", "-"), ("crew", "rates", written)
        if name not in known:
            book.bad("job.unknown", path, f"There is no task {written[:40]}.", fix=did_you_mean(name, known))
        elif known[name].measured_in != measure:
            example = {"m2": "80 sq ft/h", "m": "30 ft/h", "each": "1.5 h"}[known[name].measured_in]
            book.bad("job.quantity", path, f"{name} is not measured so.", fix=f"Write it like {example}.")
        else:
            rates[name] = pace
    return Crew(block.people, block.wage, rates)


def _products_as_written(data: Mapping[str, Any], catalog: Catalog | None, book: Book) -> None:
    """Refuse unknown products of a file that the schema refused too, so that all is mended in one go.

    Whatever has not the right shape is passed over: the schema's complaint about it is in the book.
    """
    named: list[tuple[tuple[str | int, ...], Any]] = []
    assemblies = data.get("assemblies")
    for name, layers in assemblies.items() if isinstance(assemblies, dict) else ():
        for index, layer in enumerate(layers if isinstance(layers, list) else ()):
            if isinstance(layer, dict):
                named.append((("assemblies", name, index, "product"), layer.get("product")))
    for index, row in enumerate(_rows(data.get("stock"))):
        named.append((("stock", index, "product"), row.get("product")))
    for i, face in enumerate(_rows(data.get("faces"))):
        for k, opening in enumerate(_rows(face.get("openings"))):
            named.append((("faces", i, "openings", k, "unit"), opening.get("unit")))
    for path, product in named:
        if catalog is not None and isinstance(product, str) and product not in catalog:
            what = f"The catalog has no product {product[:40]}."
            book.bad("job.unknown", path, what, fix=did_you_mean(product, catalog.products))


def _rows(value: Any) -> list[dict[Any, Any]]:
    """Return the entries of a list as blocks, an empty block for one that is none."""
    return [row if isinstance(row, dict) else {} for row in value] if isinstance(value, list) else []


def _own_detail(name: str, folder: Path, path: tuple[str | int, ...], book: Book) -> None:
    """Refuse a detail file that is not in the job folder. Reading a job never runs it."""
    try:
        target = (folder / name).resolve()
        there = target.is_relative_to(folder.resolve()) and target.suffix == ".py" and target.is_file()
    except (OSError, ValueError):
        there = False
    if not there:
        what = f"There is no detail file {name[:80]} in the job folder."
        book.bad("job.own_detail", path, what, fix="Put the .py file there, or take the line out.")
