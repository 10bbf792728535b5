"""packet.pdf, read back by pypdf: what must be on paper is on paper, on the page where it belongs."""

from __future__ import annotations

import re
from collections import Counter
from functools import cache
from pathlib import Path

import packet_doc
import pypdf
from packet_doc import Written

from lapwright.packet import write
from lapwright.packet.view import View


@cache
def pages(out: Path) -> list[str]:
    reader = pypdf.PdfReader(out / "packet.pdf")
    return [re.sub(r"\s+", " ", page.extract_text()) for page in reader.pages]


def squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)


def section(written: Written, title: str) -> str:
    """The text of all pages that carry that running title."""
    head = f"{written.doc['job']['name']} {title} "
    return " ".join(p for p in pages(written.out) if p.startswith(head))


def sheets_and_steps(written: Written, surface: str) -> tuple[str, str]:
    """The text of a surface's sheets, and of its steps and checks after them."""
    drawn, _, worked = section(written, surface).partition(f"{surface}: steps and checks")
    return drawn, worked


def test_the_banner_stands_on_the_cover_and_every_foot_only_when_there_is_a_stop(written: Written) -> None:
    stop = any(f["level"] == "stop" for f in written.doc["findings"])
    assert ("DO NOT BUILD" in pages(written.out)[0]) == stop
    assert all(("DO NOT BUILD" in page) == stop for page in pages(written.out))


def test_every_finding_has_its_fix_on_the_first_pages_stops_first(written: Written) -> None:
    cover = squeezed("".join(pages(written.out)[:3]))
    spots = [cover.find(squeezed(f["fix"])) for f in written.doc["findings"]]
    assert all(spot >= 0 for spot in spots)
    for finding in written.doc["findings"]:
        assert squeezed(finding["what"]) in cover
        assert finding["code"] in cover
    levels = [f["level"] for f in written.doc["findings"]]
    for high, low in (("stop", "warn"), ("warn", "note"), ("stop", "note")):
        highs = [s for s, lv in zip(spots, levels, strict=True) if lv == high]
        lows = [s for s, lv in zip(spots, levels, strict=True) if lv == low]
        assert not highs or max(highs) < min(lows)


def test_every_mark_stands_on_a_sheet_of_its_surface(written: Written) -> None:
    view = View(written.doc)
    for surface in view.surfaces:
        words = set(re.split(r"[ ,:]+", sheets_and_steps(written, surface)[0]))
        want = {view.marks[p["id"]] for p in view.pieces_on[surface]}
        assert want <= words, want - words


def test_every_chalk_line_is_given_to_snap(written: Written) -> None:
    view = View(written.doc)
    for line in written.doc["lines"]:
        assert view.length(line["y_m"]) in sheets_and_steps(written, line["surface"])[0]


def test_every_step_check_and_caution_is_on_the_surface_s_pages(written: Written) -> None:
    """Steps that differ in names and figures share their words: the words between stand there, and all figures."""
    for surface in {s["place"].split("/")[0] for s in written.doc["steps"]}:
        page = sheets_and_steps(written, surface)[1]
        text = squeezed(page)
        steps = [s for s in written.doc["steps"] if s["place"].split("/")[0] == surface]
        checks = [c for c in written.doc["checks"] if c["place"].split("/")[0] == surface]
        for row, key in [(s, "action") for s in steps] + [(c, "measure") for c in checks]:
            thing = row["place"].split("/")[1]
            phrases = re.split(rf"\b{re.escape(thing)}\b|[wd]\d+|-?\d[\d'\"/.-]*", row[key])
            assert all(squeezed(p) in text for p in phrases if len(p) > 4), row[key]
            assert all(f in page for f in re.findall(r"\d[\d'\"/.-]*\d[\"']?", row[key])), row[key]
        for step in steps:
            assert all(squeezed(c) in text for c in step["cautions"])
            marks = {View(written.doc).marks[p] for p in step["pieces"]}
            assert all(squeezed(m) in text for m in marks)
        for check in checks:
            assert squeezed(check["if_fails"]) in text
        held = {(c["measure"].replace(c["place"].split("/")[1], ""), c["if_fails"]) for c in checks if c["hold"]}
        assert text.count("DON'TCOVERYET") >= len({fails for _, fails in held}) > 0


def test_every_opening_is_in_the_schedule(written: Written) -> None:
    text = section(written, "The job, cautions, how to read").split()
    assert {o["id"] for s in written.doc["surfaces"] for o in s["openings"]} <= set(text)


def test_every_cut_is_on_the_cutting_pages(written: Written) -> None:
    """Each mark stands there as often as pieces are cut for it."""
    view = View(written.doc)
    said = Counter(re.findall(r"[\w-]+\.\d+", section(written, "Cutting")))
    want = Counter(m for c in written.doc["cuts"] for m in re.findall(r"[\w-]+\.\d+", view.cut_label(c["id"])))
    assert sum(want.values()) > 50
    assert not want - said


def test_what_nobody_gave_says_so(written: Written) -> None:
    order = section(written, "Order")
    missing = sum(r["price"] is None for r in written.doc["order"])
    missing += sum(r["kgCO2e"] is None for r in written.doc["order"])
    assert order.count("not given") >= missing + 1  # and the total of the bid
    assert "4,100 to 4,600 USD" in order


def test_pages_are_numbered_and_of_the_right_paper(written: Written) -> None:
    reader = pypdf.PdfReader(written.out / "packet.pdf")
    count = len(reader.pages)
    want = (612, 792) if written.doc["job"]["units"] == "imperial" else (595, 842)
    for number, page in enumerate(reader.pages, 1):
        assert (round(page.mediabox.width), round(page.mediabox.height)) == want
        assert f"page {number} of {count}" in pages(written.out)[number - 1]
    assert count < 45


def test_fonts_travel_with_the_file(written: Written) -> None:
    reader = pypdf.PdfReader(written.out / "packet.pdf")
    seen = 0
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            inner = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object()
            assert "/FontFile2" in inner or "/FontFile3" in inner
            seen += 1
    assert seen


def test_words_of_the_job_cannot_break_the_page(tmp_path: Path) -> None:
    words = "#panic() $x$ *bold* _it_ <tag> \\ <b>&amp;</b> è é ½ Ж Ω"
    doc = packet_doc.make(faces=1, stop=True)
    doc["job"]["name"] = doc["findings"][0]["fix"] = doc["steps"][0]["action"] = words
    doc["products"]["membrane-sa"]["title"] = words
    write(doc, tmp_path / "packet")
    assert squeezed(words) in squeezed("".join(pages(tmp_path / "packet")))
