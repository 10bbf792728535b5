"""One face from its block: outline, zones, openings, what comes through and what hangs on it."""

from __future__ import annotations

from shapely import LineString, Polygon

from lapwright.geometry import box, polygons
from lapwright.lengths import Length, Units
from lapwright.survey import outline as shapes
from lapwright.survey.book import Book, Path
from lapwright.survey.checks import OVERLAP_M2, apart, ids_once, inside
from lapwright.survey.model import Attachment, Face, Found, Framing, Nearby, Opening, Penetration, Zone
from lapwright.survey.outline import ShapeError
from lapwright.survey.schema import FaceBlock, ZoneBlock

MAIN = "main"  # the zone of a face that no listed zone covers


def read_face(
    block: FaceBlock,
    path: Path,
    book: Book,
    units: Units,
    *,
    loop: str,
    index: int,
    turn_deg: float,
    base_m: float,
    azimuth_deg: float | None,
    origin: tuple[float, float, float],
    left: str | None,
    right: str | None,
) -> Face:
    """Return the face record; contradictions go into the book. Heights and lengths in metres."""
    _ids(block, path, book)
    try:
        outline = shapes.face_outline(block, base_m)
    except ShapeError as error:
        _shape(book, (*path, error.name), block.id, error)
        outline = None
    framing = Framing()
    if block.framing is not None:
        try:
            centers = shapes.studs(block.framing, block.width.m)
            spacing = block.framing.spacing.m if block.framing.spacing else None
            framing = Framing(block.framing.stud, spacing, centers)
        except ShapeError as error:
            _shape(book, (*path, error.name), block.id, error)
    reader = _Things(block, path, book, units, outline)
    openings = reader.openings()
    return Face(
        id=block.id,
        loop=loop,
        index=index,
        width_m=block.width.m,
        turn_deg=turn_deg,
        outline=outline if outline is not None else box(0.0, 0.0, block.width.m, 1.0),
        left=left,
        right=right,
        origin=origin,
        azimuth_deg=azimuth_deg,
        adjoins=block.adjoins,
        framing=framing,
        openings=openings,
        penetrations=reader.penetrations(openings),
        attachments=reader.attachments(),
        zones=reader.zones(),
        found=reader.found(),
        eaves=block.eaves,
        where=book.where(path),
        lot_line_m=None if block.lot_line is None else block.lot_line.m,
        nearby=tuple(
            Nearby(n.id, block.id, n.kind, n.away.m, n.least.m if n.least else None, book.where((*path, "nearby", i)))
            for i, n in enumerate(block.nearby)
        ),
    )


def _shape(book: Book, path: Path, label: str, error: ShapeError) -> None:
    book.bad("job.shape", path, f"{label}: {error.what}", fix=error.fix)


def _ids(block: FaceBlock, path: Path, book: Book) -> None:
    """Everything on a face shares one set of names: places, pieces and steps are called after them."""
    rows = [
        (thing.id, (*path, kind, i))
        for kind in ("openings", "penetrations", "attachments", "zones", "found", "nearby")
        for i, thing in enumerate(getattr(block, kind))
    ]
    ids_once(book, rows, f"on the face {block.id}", taken=(MAIN,))


class _Things:
    """Reads what is listed on one face. `outline` is None when the face's own shape cannot be."""

    def __init__(self, block: FaceBlock, path: Path, book: Book, units: Units, outline: Polygon | None) -> None:
        self.block = block
        self.path = path
        self.book = book
        self.units = units
        self.outline = outline

    def _inside(self, path: Path, label: str, shape: Polygon | LineString) -> None:
        if self.outline is not None:
            inside(self.book, path, label, shape, self.outline, self.units)

    def openings(self) -> tuple[Opening, ...]:
        out = []
        rows = []
        for i, block in enumerate(self.block.openings):
            path = (*self.path, "openings", i)
            label = f"{self.block.id}/{block.id}"
            try:
                polygon = shapes.opening_polygon(block)
            except ShapeError as error:
                _shape(self.book, (*path, error.name), label, error)
                continue
            self._inside(path, label, polygon)
            rows.append((label, path, polygon))
            out.append(
                Opening(
                    block.id, self.block.id, block.kind, polygon, block.shape, block.state, block.unit, block.detail,
                    block.bedroom, block.basement, _pair(block.clear), block.weight, self.book.where(path), block.without,
                    block.position, block.buck,
                )
            )  # fmt: skip
        apart(self.book, rows, self.units)
        return tuple(out)

    def penetrations(self, openings: tuple[Opening, ...]) -> tuple[Penetration, ...]:
        out: list[Penetration] = []
        for i, block in enumerate(self.block.penetrations):
            path = (*self.path, "penetrations", i)
            label = f"{self.block.id}/{block.id}"
            polygon = shapes.penetration_polygon(block)
            self._inside(path, label, polygon)
            for opening in openings:
                if polygon.intersection(opening.polygon).area > OVERLAP_M2:
                    what = f"{label} comes through the opening {opening.id}."
                    self.book.bad("job.overlap", path, what, fix="Check where it lies.")
            for other in out:
                if polygon.intersection(other.polygon).area > OVERLAP_M2:
                    what = f"{label} and {self.block.id}/{other.id} come through at the same spot."
                    fix = "Check where both lie; list what shares a hole as one bundle or box."
                    self.book.say("warn", "survey.same_spot", path, what, fix=fix)
            out.append(
                Penetration(
                    block.id, self.block.id, block.kind, polygon, block.through, block.detail, self.book.where(path)
                )
            )
        return tuple(out)

    def attachments(self) -> tuple[Attachment, ...]:
        out = []
        for i, block in enumerate(self.block.attachments):
            path = (*self.path, "attachments", i)
            label = f"{self.block.id}/{block.id}"
            try:
                start, end, polygon = shapes.attachment_line(block)
            except ShapeError as error:
                _shape(self.book, (*path, error.name), label, error)
                continue
            depth = block.depth.m if block.depth else 0.0
            self._hangs(path, label, block.kind, start, end, depth, polygon)
            out.append(
                Attachment(
                    block.id, self.block.id, block.kind, start, end, depth,
                    block.projection.m if block.projection else None, polygon, block.below, block.ends,
                    block.decision, block.detail, self.book.where(path),
                )
            )  # fmt: skip
        return tuple(out)

    def _hangs(
        self, path: Path, label: str, kind: str, start: tuple[float, float], end: tuple[float, float],
        depth: float, polygon: Polygon | None,
    ) -> None:  # fmt: skip
        """Refuse what does not hang on this face. A chimney, an eave and a roof return may reach past it."""
        if self.outline is None:
            return
        line = LineString([start, end])
        if kind in ("chimney", "eave", "roof_return"):
            if not self.outline.buffer(0.05).intersects(polygon or line):
                self.book.bad("job.outside", path, f"{label} is not on this face.", fix="Check its figures.")
        elif kind in ("deck_ledger", "belly_band"):
            self._inside(path, label, box(start[0], min(start[1], end[1]) - depth, end[0], max(start[1], end[1])))
        else:
            self._inside(path, label, line)

    def zones(self) -> tuple[Zone, ...]:
        if self.outline is None:
            return ()
        listed: list[tuple[ZoneBlock, Path, Polygon]] = []
        for i, block in enumerate(self.block.zones):
            path = (*self.path, "zones", i)
            try:
                polygon = self._zone(block, path)
            except ShapeError as error:
                _shape(self.book, (*path, error.name), f"{self.block.id}/{block.id}", error)
                continue
            listed.append((block, path, polygon))
        apart(self.book, [(f"{self.block.id}/{b.id}", p, z) for b, p, z in listed], self.units)
        rest = self.outline
        for _, _, polygon in listed:
            rest = rest.difference(polygon)
        out = [
            Zone(b.id, self.block.id, polygon, b.decision, b.assembly, self.book.where(p), b.wrong_laps, b.cut_in)
            for b, p, polygon in listed
        ]
        decision = self.block.decision or "keep"
        for number, part in enumerate(polygons(rest)):
            name = MAIN if number == 0 else f"{MAIN}-{number + 1}"
            out.append(Zone(name, self.block.id, part, decision, self.block.assembly, self.book.where(self.path)))
        return tuple(out)

    def _zone(self, block: ZoneBlock, path: Path) -> Polygon:
        """Return a zone's polygon, sides that are left out reaching to the edge of the face."""
        assert self.outline is not None
        sides = {n: getattr(block, n) for n in ("left", "right", "bottom", "top")}
        label = f"{self.block.id}/{block.id}"
        if block.points is not None:
            if any(v is not None for v in sides.values()):
                raise ShapeError("points", "It has corners and sides.", "Give `points`, or sides, not both.")
            shape = shapes.simple(shapes.corners(block.points), "points")
            self._inside(path, label, shape)
            return shape
        if all(v is None for v in sides.values()):
            raise ShapeError("id", "It has no sides.", "Give left, right, bottom or top, or `points`.")
        x0, y0, x1, y1 = self.outline.bounds
        left, right = _or(sides["left"], x0), _or(sides["right"], x1)
        bottom, top = _or(sides["bottom"], y0), _or(sides["top"], y1)
        if left >= right or bottom >= top:
            name = "right" if left >= right else "top"
            raise ShapeError(name, "Its sides are the wrong way round.", "Check left, right, bottom and top.")
        # The slopes of a gable cut a rectangle off; only a side beyond the whole face is a mistake.
        inside(self.book, path, label, box(left, bottom, right, top), box(x0, y0, x1, y1), self.units)
        parts = polygons(self.outline.intersection(box(left, bottom, right, top)))
        if len(parts) != 1:
            raise ShapeError("id", f"It covers {len(parts)} separate parts of the face.", "Give each its own zone.")
        return parts[0]

    def found(self) -> tuple[Found, ...]:
        out = []
        for i, block in enumerate(self.block.found):
            path = (*self.path, "found", i)
            polygon = None
            if block.at is not None and block.size is not None:
                polygon = shapes.sized(block.at, block.size)
                if self.outline is not None and not self.outline.intersects(polygon):
                    self.book.bad("job.outside", path, f"{block.id} is not on this face.", fix="Check `at`.")
            elif block.size is not None:
                self.book.bad("job.missing", path, f"{block.id}: `at` is missing.", fix="Add `at: [x, y]`.")
            out.append(Found(block.id, self.block.id, block.what, polygon, block.note, self.book.where(path)))
        return tuple(out)


def _or(value: Length | None, default: float) -> float:
    return default if value is None else value.m


def _pair(value: tuple[Length, Length] | None) -> tuple[float, float] | None:
    return None if value is None else (value[0].m, value[1].m)
