"""DXF files, read back by ezdxf and compared with the document."""

from __future__ import annotations

from collections import Counter

import ezdxf
from ezdxf import units
from packet_doc import Written
from shapely import Polygon

from lapwright.packet.view import View


def test_every_drawing_reads_back_clean_and_in_the_right_unit(written: Written) -> None:
    files = sorted((written.out / "surfaces").glob("*.dxf"))
    assert len(files) >= 8
    for file in files:
        doc = ezdxf.readfile(file)
        audit = doc.audit()
        assert not audit.errors and not audit.fixes, file
        assert doc.dxfversion == "AC1024"  # R2010
        imperial = written.doc["job"]["units"] == "imperial"
        assert doc.header["$INSUNITS"] == (units.IN if imperial else units.MM)


def test_pieces_are_closed_polylines_with_the_areas_of_the_document(written: Written) -> None:
    per_m = 1 / 0.0254 if written.doc["job"]["units"] == "imperial" else 1000.0
    want: Counter[float] = Counter()
    for piece in written.doc["pieces"]:
        if piece["surface"] == "front" and piece["layer"] == "barrier":
            want.update(round(Polygon(ring).area, 3) for ring in piece["polygon"])
    doc = ezdxf.readfile(written.out / "surfaces" / "front-barrier.dxf")
    got: Counter[float] = Counter()
    for line in doc.modelspace().query('LWPOLYLINE[layer=="barrier"]'):
        assert line.closed
        got.update([round(Polygon([(x / per_m, y / per_m) for x, y, *_ in line]).area, 3)])
    assert got == want and sum(want.values()) > 5


def test_chalk_lines_stand_at_their_heights_with_a_measure_each(written: Written) -> None:
    per_m = 1 / 0.0254 if written.doc["job"]["units"] == "imperial" else 1000.0
    want = sorted(r["y_m"] for r in written.doc["lines"] if r["surface"] == "front" and r["layer"] == "barrier")
    space = ezdxf.readfile(written.out / "surfaces" / "front-barrier.dxf").modelspace()
    got = sorted(line.dxf.start.y / per_m for line in space.query('LINE[layer=="chalk"]'))
    assert len(got) == len(want)
    assert all(abs(a - b) < 1e-6 for a, b in zip(got, want, strict=True))
    view = View(written.doc)
    xs = [x for x, _ in written.doc["surfaces"][0]["outline"][0]]
    width = max(xs) - min(xs)
    words = Counter(t.dxf.text for t in space.query('TEXT[layer=="dimensions"]'))
    assert words == Counter([*(view.length(y) for y in want), view.length(width)])
    lines = [(m.dxf.start / per_m, m.dxf.end / per_m) for m in space.query('LINE[layer=="dimensions"]')]
    for high in want:  # an upright from the reference line to the height
        assert any(abs(a.x - b.x) < 1e-6 and abs(a.y) < 1e-6 and abs(b.y - high) < 1e-6 for a, b in lines)


def test_marks_of_the_pieces_are_written(written: Written) -> None:
    space = ezdxf.readfile(written.out / "surfaces" / "front-barrier.dxf").modelspace()
    marks = [t.dxf.text for t in space.query('TEXT[layer=="marks"]')]
    assert len(marks) == len(set(marks)) > 5
    assert {"B1.1", "B2.1"} <= set(marks)


def test_no_mark_lies_on_another(written: Written) -> None:
    crowded = 0
    for file in sorted((written.out / "surfaces").glob("*.dxf")):
        words = list(ezdxf.readfile(file).modelspace().query('TEXT[layer=="marks"]'))
        marks = [t.dxf.text for t in words]
        assert len(marks) == len(set(marks)), file
        boxes = []
        for t in words:
            at, high = t.dxf.align_point, t.dxf.height
            half = 0.3 * high * len(t.dxf.text)  # letters are half as wide as tall at least
            boxes.append((at.x - half, at.y - high / 2, at.x + half, at.y + high / 2))
        meet = [
            (a, b)
            for i, a in enumerate(boxes)
            for b in boxes[:i]
            if a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
        ]
        crowded += len(meet)
    assert crowded == 0
