"""From the job file's blocks to the `Survey` record: outlines, places seen from above, neighbors, checks.

Everything that contradicts itself goes into the book, so that one reading tells all of it.
"""

from __future__ import annotations

from collections.abc import Mapping

from lapwright.lengths import Length
from lapwright.survey import walk
from lapwright.survey.book import Book
from lapwright.survey.checks import ids_once
from lapwright.survey.faces import read_face
from lapwright.survey.model import Face, Loop, LowestFloor, Place, Storey, Survey
from lapwright.survey.schema import FaceBlock, LoopBlock, SurveyBlock
from lapwright.survey.tape import Ring, TapeErrors, place_ring
from lapwright.survey.words import did_you_mean

TAPE_ERROR_M = 0.25 * 0.0254  # "long runs +-1/4 in": common practice
TURN_ERROR_DEG = 1.0  # a square held to an old corner: common practice


def resolve(house: SurveyBlock, book: Book, folder_name: str) -> Survey:
    """Return the survey of a job file. folder_name: what the job is called when the file does not say.

    Contradictions go into `book` (the caller closes it); the record is whole only when there are none.
    """
    rings = _loops(house, book)
    ids_once(book, [(f.id, ("faces", i)) for i, f in enumerate(house.faces)], "in this job")
    faces: list[Face] = []
    loops: list[Loop] = []
    for loop_id, block in rings.items():
        mine = [(i, f) for i, f in enumerate(house.faces) if f.loop == loop_id]
        if mine:
            loop, its_faces = _ring(house, loop_id, block, mine, book)
            loops.append(loop)
            faces += its_faces
    errors = _errors(house)
    return Survey(
        name=house.job or folder_name,
        units=house.units,
        place=_place(house),
        faces=tuple(faces),
        loops=tuple(loops),
        storeys=_storeys(house, rings, book),
        lowest_floor=LowestFloor(house.lowest_floor.kind, _m(house.lowest_floor.depth)) if house.lowest_floor else None,
        year_built=house.year_built,
        fuel_burning=house.fuel_burning,
        services=tuple(house.services.items()),
        wind_speed_m_s=house.wind.speed if house.wind else None,
        wind_exposure=house.wind.exposure if house.wind else None,
        tape_error_m=errors.length_m,
        turn_error_deg=errors.turn_deg,
        reference_line=house.reference_line,
        file=book.written.file,
        wildfire=house.wildfire,
        termites=house.termites,
        season=house.season,
    )


def _errors(house: SurveyBlock) -> TapeErrors:
    """Return how far off tape and square may be: the job's own figures, else common practice."""
    tape = house.tape
    length_m = tape.length_error.m if tape and tape.length_error else TAPE_ERROR_M
    own_turn = tape.turn_error if tape else None
    return TapeErrors(length_m, own_turn or TURN_ERROR_DEG, rule_of_thumb=own_turn is None)


def _m(value: Length | None) -> float | None:
    return None if value is None else value.m


def _place(house: SurveyBlock) -> Place:
    place = house.place
    if place is None:
        return Place("")
    return Place(place.name, place.latitude, place.longitude, _m(place.elevation), place.climate, place.climate_zone)


def _loops(house: SurveyBlock, book: Book) -> Mapping[str, LoopBlock]:
    """Return the loops in order; one called main when the file lists none."""
    rings = dict(house.loops) or {"main": LoopBlock()}
    for index, face in enumerate(house.faces):
        if face.loop not in rings:
            path = ("faces", index, "loop" if face.loop != "main" else "id")
            what = f"{face.id} belongs to the loop {face.loop}, which is not listed under `loops`."
            book.bad("job.unknown", path, what, fix=did_you_mean(face.loop, rings))
            rings.setdefault(face.loop, LoopBlock())
    return rings


def _ring(
    house: SurveyBlock, loop_id: str, block: LoopBlock, mine: list[tuple[int, FaceBlock]], book: Book
) -> tuple[Loop, list[Face]]:
    """Return one loop and its faces in walking order. mine: (place in the file, face) as listed."""
    closed = _is_closed(loop_id, block, len(mine), book)
    whole = _has_turns(mine, closed, book)
    left = (block.walk or house.walk) == "left"
    walked = walk.canonical([f.turn for _, f in mine], closed, left)
    ordered = [mine[k] for k in walked.order]
    ring = Ring(
        loop_id,
        tuple(f.id for _, f in ordered),
        tuple(("faces", i) for i, _ in ordered),
        tuple(f.width.m for _, f in ordered),
        tuple(t or 0.0 for t in walked.turns),
        house.units,
    )
    # The first face listed is the anchor: it looks where the file says, and in the first loop it runs along +x.
    relative = walk.headings(ring.turns_deg)
    swung = [h - relative[walked.order.index(0)] for h in relative]
    azimuth, turned = _azimuth(house, loop_id, block), 0.0
    if azimuth is not None and loop_id != _first_loop(house, loop_id) and house.first_face_azimuth is not None:
        turned = house.first_face_azimuth - azimuth
    start = (block.origin[0].m, block.origin[1].m) if block.origin else (0.0, 0.0)
    spots = place_ring(ring, book, swung[0] + turned, start, _errors(house), closed and whole)
    base_m, n = block.base.m if block.base else 0.0, len(ordered)
    faces = [
        read_face(
            face,
            ring.paths[k],
            book,
            house.units,
            loop=loop_id,
            index=k,
            turn_deg=ring.turns_deg[k],
            base_m=base_m,
            azimuth_deg=None if azimuth is None else round((azimuth - swung[k]) % 360, 9) % 360,
            origin=(*spots[k], 0.0),
            left=ring.faces[k - 1] if k or closed else None,
            right=ring.faces[(k + 1) % n] if k + 1 < n or closed else None,
        )
        for k, (_, face) in enumerate(ordered)
    ]
    return Loop(loop_id, ring.faces, closed, base_m), faces


def _is_closed(loop_id: str, block: LoopBlock, n: int, book: Book) -> bool:
    """Return whether the loop is a ring; refuse one of fewer than three faces."""
    closed = block.closed if block.closed is not None else n >= 3
    if closed and n < 3:
        what = f"The loop {loop_id} is closed but has {n} face{'' if n == 1 else 's'}."
        book.bad("job.loop", ("loops", loop_id), what, fix="List its other faces, or write closed: no.")
        return False
    return closed


def _has_turns(mine: list[tuple[int, FaceBlock]], closed: bool, book: Book) -> bool:
    """Return whether every turn between two faces is given; refuse the faces that lack theirs."""
    missing = [(i, f) for i, f in (mine if closed else mine[:-1]) if f.turn is None]
    for index, face in missing:
        what = f"{face.id}: `turn` is missing; the next face cannot be placed."
        book.bad(
            "job.missing", ("faces", index), what, "A square outside corner is 90, an inside one -90.",
            "Add `turn: 90`, or write closed: no for an open chain.",
        )  # fmt: skip
    return not missing


def _first_loop(house: SurveyBlock, loop_id: str) -> str:
    return next(iter(house.loops), loop_id)


def _azimuth(house: SurveyBlock, loop_id: str, block: LoopBlock) -> float | None:
    """Return where a loop's first listed face looks, or None. The top of the file speaks for the first loop."""
    if block.first_face_azimuth is not None:
        return block.first_face_azimuth
    return house.first_face_azimuth if loop_id == _first_loop(house, loop_id) else None


def _storeys(house: SurveyBlock, rings: Mapping[str, LoopBlock], book: Book) -> tuple[Storey, ...]:
    ids_once(book, [(s.id, ("storeys", i)) for i, s in enumerate(house.storeys)], "among the stories")
    out = []
    for index, block in enumerate(house.storeys):
        path = ("storeys", index)
        if house.faces and block.loop not in rings:
            what = f"{block.id}: there is no loop {block.loop}."
            book.bad("job.unknown", (*path, "loop"), what, fix=did_you_mean(block.loop, rings))
        if block.ceiling.m <= block.floor.m:
            book.bad("job.size", path, f"{block.id}: the ceiling is not above the floor.", fix="Check both heights.")
        if block.ceiling_kind == "sloped" and block.peak is None:
            book.bad("job.missing", path, f"{block.id}: a sloped ceiling needs its `peak`.", fix="Add `peak: 12'`.")
        if block.peak is not None and block.peak.m < block.ceiling.m:
            what = f"{block.id}: the peak is below the ceiling's low side."
            book.bad("job.size", (*path, "peak"), what, fix="Check both heights.")
        out.append(Storey(block.id, block.loop, block.floor.m, block.ceiling.m, block.ceiling_kind, _m(block.peak)))
    return tuple(out)
