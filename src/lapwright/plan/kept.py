"""Results kept from one call of the program to the next, in the user's cache folder, never in the job.

One file per job. It is used only by the very program that wrote it (version, sources, libraries) for the very
catalog and detail files; within that, every result has its own key (see `lapwright.memo`), so what an edit does not
touch is taken over and the rest made anew. A file that is damaged, of another make or somebody else's is as good as
none. Where nothing can be written, nothing is kept, and nothing else changes.

The folder: LAPWRIGHT_CACHE (`off`: none), else lapwright/ in XDG_CACHE_HOME, else in ~/.cache.
"""

from __future__ import annotations

import os
import platform
import sys
import tempfile
from collections.abc import Iterable
from contextlib import suppress
from functools import cache, cached_property
from hashlib import blake2b
from importlib import metadata, resources
from pathlib import Path

import numpy as np
import shapely

from lapwright import __version__
from lapwright.memo import Entries, Memo, frozen, thawed

MARK = b"lapwright results\n"
MOST_BYTES = 200_000_000  # of all files together; the oldest go first
MOST_ONE = 60_000_000  # a bigger one is not written
SUFFIX, NEW = ".kept", ".new-"


def folder() -> Path | None:
    """Return the cache folder, or None where there is to be none; it need not be there yet."""
    said = os.environ.get("LAPWRIGHT_CACHE", "")
    if said:
        return None if said == "off" else Path(said)
    base = os.environ.get("XDG_CACHE_HOME", "")
    if base and Path(base).is_absolute():  # the base directory specification: a relative path is to be ignored
        return Path(base) / "lapwright"
    try:
        return Path.home() / ".cache" / "lapwright"
    except RuntimeError:  # a user without a home
        return None


def digest(*parts: bytes | str) -> str:
    """Return one short text for several; other parts give another.

    >>> digest("ab", "c") == digest("a", "bc")
    False
    """
    out = blake2b(digest_size=20)
    for part in parts:
        data = part.encode() if isinstance(part, str) else part
        out.update(len(data).to_bytes(8, "little") + data)
    return out.hexdigest()


@cache
def program() -> str:
    """Return what this program is: its version, all its files, and the libraries whose arithmetic it uses."""
    root = Path(str(resources.files("lapwright")))
    files = sorted(p for p in root.rglob("*") if p.suffix in (".py", ".yaml", ".json", ".csv") and p.is_file())
    own = [f"{p.relative_to(root)}".encode() + b"\0" + p.read_bytes() for p in files]
    libraries: tuple[str, ...] = (shapely.__version__, shapely.geos_version_string, np.__version__, sys.version, platform.machine())
    libraries += tuple(metadata.version(name) for name in ("scipy", "highspy"))  # not loaded to be asked
    return digest(__version__, *libraries, *own)


def read_or_empty(path: Path) -> bytes:
    """Return a file's bytes; none when it is not there."""
    try:
        return path.read_bytes()
    except OSError:
        return b""


class Store:
    """The kept results of one job: `memo` holds them, `keep` writes them.

    house: its house.yaml; files: what else every result depends on (catalog, detail files); missing ones count as empty.
    """

    def __init__(self, house: Path, files: Iterable[Path] = ()) -> None:
        self._folder = folder()
        self._house = house
        self._files = tuple(files)
        self.memo = Memo(self._entries if self._folder is not None else None)
        # what the results depend on, as it stands before anything of it is read
        self._read = self._inputs()

    @cached_property
    def _path(self) -> Path:
        assert self._folder is not None
        return self._folder / (digest(os.fsencode(self._house.resolve())) + SUFFIX)

    def _inputs(self) -> tuple[str, ...]:
        if self._folder is None:
            return ()
        return tuple(digest(f.name, read_or_empty(f)) for f in (self._house, *self._files))

    @cached_property
    def _head(self) -> bytes:
        return MARK + digest(program(), *self._read[1:]).encode() + b"\n"

    def depend_on(self, files: Iterable[Path]) -> None:
        """Name more files that every result depends on, before they are read and before any result is asked for."""
        more = tuple(files)
        self._files += more
        if self._folder is not None:
            self._read += tuple(digest(f.name, read_or_empty(f)) for f in more)

    @cached_property
    def _blocks(self) -> dict[str, bytes]:
        """What the file holds, by the name of the results; each block is read when a result of its name is asked for."""
        try:
            if not _own(self._path) or not _own(self._path.parent):
                return {}
            data = self._path.read_bytes()
            if not data.startswith(self._head):
                return {}
            summed, body = data[len(self._head) :][:40], data[len(self._head) + 40 :]
            if digest(body).encode() != summed:
                return {}
            blocks: dict[str, bytes] = thawed(body)
            os.utime(self._path)  # the last used goes last
        except Exception:  # whatever is wrong with a kept file, the results are made anew
            return {}
        return blocks

    def _entries(self, name: str) -> Entries:
        try:
            out: Entries = thawed(self._blocks[name]) if name in self._blocks else []
        except Exception:
            return []
        return out

    def keep(self) -> None:
        """Write the results for the next call, if there are new ones. Whatever goes wrong, nothing is said."""
        if self._folder is None or not self.memo.changed:
            return
        if self._inputs() != self._read:
            return  # somebody saved a file meanwhile: nobody knows which of the two a result was made from
        with suppress(Exception):  # a full or read-only disk, a record of the job's own that cannot be written
            body = frozen({**self._blocks, **{name: frozen(self.memo.kept(name)) for name in sorted(self.memo.changed)}})
            if len(body) > MOST_ONE:
                return
            self._folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            if not _own(self._folder):
                return
            handle, name = tempfile.mkstemp(prefix=NEW, dir=self._folder)
            try:
                with os.fdopen(handle, "wb") as out:
                    out.write(self._head + digest(body).encode() + body)
                os.replace(name, self._path)
            except BaseException:
                os.unlink(name)
                raise
            _tidy(self._folder)


def _own(path: Path) -> bool:
    """Return whether a file or folder is this user's and nobody else may write to it."""
    if not hasattr(os, "geteuid"):  # where folders of a user are closed to others by default
        return path.exists()
    found = path.stat()
    return found.st_uid == os.geteuid() and not found.st_mode & 0o022


def _tidy(where: Path) -> None:
    """Take away the oldest kept files until the rest fits, and what a killed process left half written a day ago."""
    found = []
    for path in where.iterdir():
        if path.suffix == SUFFIX or path.name.startswith(NEW):
            with suppress(OSError):  # another process was faster
                found.append((path.stat().st_mtime, path.stat().st_size, path))
    found.sort(key=lambda f: (f[0], f[2].name), reverse=True)
    newest, total = (found[0][0] if found else 0.0), 0
    for when, size, path in found:
        total += size
        if total > MOST_BYTES or (path.name.startswith(NEW) and newest - when > 86_400):
            with suppress(OSError):
                path.unlink()
