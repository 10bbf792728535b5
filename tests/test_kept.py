"""What a command keeps for the next one changes its time, never its bytes."""

from __future__ import annotations

import json
import os
import pickle
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import shapely
from shapely.geometry.base import BaseGeometry

from conftest import EXAMPLES
from lapwright.memo import frozen, thawed
from lapwright.plan import kept
from lapwright.plan.document import document
from lapwright.plan.graph import Plan
from lapwright.plan.load import open_plan


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("LAPWRIGHT_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    shutil.copytree(EXAMPLES / "metric", tmp_path / "job", ignore=shutil.ignore_patterns("packet"))
    return tmp_path / "job"


def planned(job: Path, kept_: bool = True) -> tuple[Plan, str]:
    """Return the plan of a job by what is kept, and its whole document; what is new is kept."""
    plan = open_plan(job, own_details=True, kept=kept_)
    text = json.dumps(document(plan))
    plan.keep()
    return plan, text


def files(cache: Path) -> list[Path]:
    return sorted(cache.glob("*"))


def edited(job: Path, old: str, new: str) -> None:
    text = (job / "house.yaml").read_text(encoding="utf-8")
    assert old in text
    (job / "house.yaml").write_text(text.replace(old, new, 1), encoding="utf-8")


@pytest.mark.parametrize("name", ["one-face", "metric", "own-detail", "foam-wall"])
def test_a_second_call_makes_nothing_anew_and_says_the_same(cache: Path, name: str) -> None:
    first, text = planned(EXAMPLES / name)
    again, same = planned(EXAMPLES / name)
    assert first.memo.misses > 5
    assert again.memo.misses == 0
    assert again.memo.hits > 0
    assert same == text == planned(EXAMPLES / name, kept_=False)[1]


def test_a_key_of_the_document_at_a_time_adds_up(cache: Path, job: Path) -> None:
    for key in ("pieces", "order", "checks", "edges"):
        plan = open_plan(job, kept=True)
        document(plan, (key,))
        plan.keep()
    plan, text = planned(job)
    assert text == planned(job, kept_=False)[1]
    assert len(files(cache)) == 1


def test_an_edit_takes_over_what_it_does_not_touch(cache: Path, job: Path) -> None:
    before, was = planned(job)
    edited(job, "{id: w2, left: 6100", "{id: w2, left: 6150")
    after, now = planned(job)
    assert now == planned(job, kept_=False)[1] != was
    assert after.memo.hits > 0
    assert 0 < after.memo.misses < before.memo.misses


@pytest.mark.parametrize("what", ["catalog", "program", "detail"])
def test_another_catalog_program_or_detail_reads_nothing(
    cache: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    shutil.copytree(EXAMPLES / "own-detail", tmp_path / "own", ignore=shutil.ignore_patterns("packet"))
    first, _ = planned(tmp_path / "own")
    if what == "catalog":
        with (tmp_path / "own" / "catalog.yaml").open("a", encoding="utf-8") as out:
            out.write("\n# a remark\n")
    elif what == "detail":
        own = next((tmp_path / "own").rglob("*.py"))
        own.write_text(own.read_text(encoding="utf-8") + "\n# a remark\n", encoding="utf-8")
    else:
        monkeypatch.setattr(kept, "program", lambda: "another")
    again, _ = planned(tmp_path / "own")
    assert again.memo.misses == first.memo.misses


def test_the_program_is_told_by_all_its_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    root = Path(kept.__file__).parent.parent
    copy = tmp_path / "lapwright"
    shutil.copytree(root, copy, ignore=shutil.ignore_patterns("__pycache__"))
    monkeypatch.setattr(kept.resources, "files", lambda _: copy)
    kept.program.cache_clear()
    was = kept.program()
    seen = {was}
    for path in [copy / "geometry.py", copy / "cuts" / "pack.py", next((copy / "catalog").rglob("*.yaml"))]:
        path.write_text(path.read_text(encoding="utf-8") + "\n# a remark\n", encoding="utf-8")
        kept.program.cache_clear()
        seen.add(kept.program())
    kept.program.cache_clear()
    assert len(seen) == 4


def _cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-100])


def _flip(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(bytes(data))


def _writable(path: Path) -> None:
    path.chmod(0o666)  # somebody else may have written it


def _folder_writable(path: Path) -> None:
    path.parent.chmod(0o777)


@pytest.mark.parametrize("harm", [_cut, _flip, _writable, _folder_writable, lambda p: p.write_bytes(b""), lambda p: p.write_bytes(os.urandom(5000))])  # fmt: skip
def test_a_damaged_or_foreign_file_is_as_good_as_none(cache: Path, job: Path, harm: Any) -> None:
    first, text = planned(job)
    (path,) = files(cache)
    harm(path)
    again, same = planned(job)
    assert again.memo.misses == first.memo.misses
    assert same == text


def test_a_file_cannot_make_the_program_act(tmp_path: Path) -> None:
    class Acts:
        def __reduce__(self) -> tuple[Any, ...]:
            return os.mkdir, (str(tmp_path / "made"),)

    for data in (pickle.dumps(Acts()), pickle.dumps(([], [], pickle.dumps(Acts())))):
        with pytest.raises(pickle.UnpicklingError):
            thawed(data)
    assert not (tmp_path / "made").exists()


def test_nothing_lies_in_the_job_and_the_folder_is_the_users_alone(cache: Path, job: Path) -> None:
    there = {p: p.read_bytes() for p in job.rglob("*") if p.is_file()}
    planned(job)
    assert {p: p.read_bytes() for p in job.rglob("*") if p.is_file()} == there
    assert cache.stat().st_mode & 0o777 == 0o700
    (path,) = files(cache)
    assert path.stat().st_mode & 0o077 == 0


def test_off_or_without_a_place_nothing_is_kept(tmp_path: Path, job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LAPWRIGHT_CACHE", "off")
    assert kept.folder() is None
    text = planned(job)[1]
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("LAPWRIGHT_CACHE", str(tmp_path / "file"))
    assert planned(job)[1] == text
    monkeypatch.setenv("LAPWRIGHT_CACHE", "/proc/nowhere")
    assert planned(job)[1] == text
    monkeypatch.delenv("LAPWRIGHT_CACHE")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "xdg"))
    assert kept.folder() == tmp_path / "xdg" / "lapwright"
    monkeypatch.setenv("XDG_CACHE_HOME", "relative")
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    assert kept.folder() == tmp_path / ".cache" / "lapwright"

    def homeless() -> Path:
        raise RuntimeError("no home")

    monkeypatch.setattr(Path, "home", homeless)
    assert kept.folder() is None


def test_the_oldest_go_first_and_other_peoples_files_stay(cache: Path, job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    planned(job)
    (mine,) = files(cache)
    size = mine.stat().st_size
    for age in range(1, 5):
        old = cache / f"{age}.kept"
        old.write_bytes(b"x" * size)
        os.utime(old, (mine.stat().st_mtime - 60 * age,) * 2)
    half = cache / ".new-left"
    half.write_bytes(b"x")
    os.utime(half, (mine.stat().st_mtime - 200_000,) * 2)
    (cache / "letter.txt").write_bytes(b"x" * 10 * size)
    monkeypatch.setattr(kept, "MOST_BYTES", int(3.5 * size))
    edited(job, "job:", "# a remark\njob:")
    planned(job)
    names = {p.name for p in cache.iterdir()}
    assert {mine.name, "1.kept", "letter.txt"} <= names
    assert not names & {"3.kept", "4.kept", ".new-left"}


def test_two_at_once_do_no_harm(cache: Path, job: Path) -> None:
    command = [sys.executable, "-c", "from lapwright.cli import main; main()", "order", str(job), "--json"]
    both = [subprocess.Popen(command, stdout=subprocess.PIPE) for _ in range(2)]
    texts = {p.communicate()[0] for p in both}
    assert len(texts) == 1
    assert subprocess.run(command, capture_output=True, check=False).stdout in texts
    (path,) = files(cache)
    assert path.suffix == kept.SUFFIX


def test_bytes_give_back_the_last_bit_and_the_grid() -> None:
    tenth = shapely.set_precision(shapely.Point(0.1 + 0.2, 1 / 3).buffer(1.0), 1e-4)
    plain = shapely.Point(0.1 + 0.2, 1 / 3).buffer(1.0)
    empty, many = shapely.Polygon(), shapely.MultiPolygon([plain])
    value = {"a": [tenth, plain, tenth, (empty, many)], "b": {1.5, "x"}}
    back = thawed(frozen(value))
    shapes: list[BaseGeometry] = [*back["a"][:3], *back["a"][3]]
    for was, now in zip([tenth, plain, tenth, empty, many], shapes, strict=True):
        assert now.wkb == was.wkb
        assert shapely.get_precision(now) == shapely.get_precision(was)
    assert shapes[0] is shapes[2]
    assert back["b"] == value["b"]


def test_what_hangs_beside_a_corner_counts_for_the_neighbor(cache: Path, job: Path) -> None:
    """The eave's patch round a corner keeps clear of a window on the other face: moved there, the patch goes."""
    planned(job)
    edited(job, "{id: w4, left: 900, sill: 1200", "{id: w4, left: 50, sill: 1780")
    assert planned(job)[1] == planned(job, kept_=False)[1]


def test_a_file_saved_while_the_program_runs_is_not_kept(cache: Path, job: Path) -> None:
    """Nobody can say whether a result is of the file before or after: the next call makes it anew."""
    plan = open_plan(job, kept=True)
    document(plan, ("pieces",))
    edited(job, "units:", "# saved meanwhile\nunits:")
    plan.keep()
    assert files(cache) == []
    assert planned(job)[1] == planned(job, kept_=False)[1]
