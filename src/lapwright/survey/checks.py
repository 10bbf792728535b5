"""Whether what is listed on a face fits: inside its outline, nothing on top of another, ids once."""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely import LineString, Polygon

from lapwright.lengths import Units, show_length
from lapwright.survey.book import Book, Path

TOUCH_M = 1e-5  # edges this close touch: float noise of converted figures, far below a tape's reading
OVERLAP_M2 = 1e-5  # overlaps up to 10 mm2 are that noise along an edge


def ids_once(book: Book, rows: Sequence[tuple[str, Path]], of: str, taken: Sequence[str] = ()) -> None:
    """Refuse an id that stands twice, or that is taken by the program."""
    seen: dict[str, Path] = {}
    for name, path in rows:
        if name in taken:
            book.bad(
                "job.repeated", (*path, "id"), f"`{name}` is a name the program uses itself.", fix="Choose another."
            )
        elif name in seen:
            line = book.where((*seen[name], "id")).line
            book.bad(
                "job.repeated", (*path, "id"), f"The id {name} stands twice {of}; first on line {line}.",
                "Pieces and steps are named after it.", "Give one of them another id.",
            )  # fmt: skip
        else:
            seen[name] = path


def inside(book: Book, path: Path, label: str, shape: Polygon | LineString, outline: Polygon, units: Units) -> bool:
    """Refuse a shape that is not inside the face's outline; say where it sticks out."""
    if outline.buffer(TOUCH_M, join_style="mitre").covers(shape):
        return True
    book.bad("job.outside", path, f"{label} {_past(shape, outline, units)}.", fix="Check its figures and the face's.")
    return False


def _past(shape: Polygon | LineString, outline: Polygon, units: Units) -> str:
    left, bottom, right, top = shape.bounds
    x0, y0, x1, y1 = outline.bounds
    over = [
        (x0 - left, "runs {} past the left edge of the face"),
        (right - x1, "runs {} past the right edge of the face"),
        (y0 - bottom, "reaches {} below the bottom of the face"),
        (top - y1, "reaches {} above the top of the face"),
    ]
    far, words = max(over, key=lambda o: o[0])
    if far <= TOUCH_M:
        return "sticks out past a sloped or stepped edge of the face"
    return words.format(show_length(far, units))


def apart(book: Book, rows: Sequence[tuple[str, Path, Polygon]], units: Units) -> None:
    """Refuse shapes of one kind that overlap each other."""
    if len(rows) < 2:
        return
    tree = shapely.STRtree([r[2] for r in rows])
    pairs = tree.query([r[2] for r in rows], predicate="intersects").T.tolist()
    for one, other in sorted((a, b) for a, b in pairs if a < b):
        shared = rows[one][2].intersection(rows[other][2])
        if shared.area > OVERLAP_M2:
            left, bottom, right, top = shared.bounds
            size = f"{show_length(right - left, units)} by {show_length(top - bottom, units)}"
            book.bad(
                "job.overlap", rows[other][1], f"{rows[other][0]} and {rows[one][0]} overlap by {size}.",
                fix="Check the left sides, heights and sizes of both.",
            )  # fmt: skip
