"""What ``add`` and ``check`` are pointed at: files, folders, globs, typed text, collections that music21 ships."""

import difflib
import glob
import hashlib
import importlib.util
import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from corpus.errors import ReadingError, SystemTroubleError
from corpus.read.formats import LARGEST_FILE_BYTES, SUFFIXES

MUSIC21_PREFIX: Final = "music21:"
STANDARD_INPUT: Final = "-"
TYPED_NAME: Final = "standard input"


@dataclass(frozen=True, slots=True)
class InputFile:
    """A file to read: ``name`` is how it is known in the database, ``data`` is set for typed text.

    ``collection`` is the collection that the file brings with it, empty for the user's own files.
    """

    name: str
    path: Path | None
    data: bytes | None = None
    collection: str = ""

    @property
    def byte_count(self) -> int:
        """The size, 0 when the file cannot be looked at."""
        if self.data is not None:
            return len(self.data)
        try:
            return self.path.stat().st_size if self.path else 0
        except OSError:
            return 0

    def read(self) -> bytes:
        """The bytes. Raises ReadingError for a file too large, SystemTroubleError for one that cannot be read."""
        if self.data is not None:
            return self.data
        assert self.path is not None
        try:
            if not self.path.is_file():
                raise ReadingError(f"{self.path.name} is no file: a pipe or device cannot be read, use - for typed ABC")
            size = self.byte_count
            if size > LARGEST_FILE_BYTES:
                raise ReadingError(
                    f"{self.path.name} has {size >> 20} MB; at most {LARGEST_FILE_BYTES >> 20} MB are read: split it"
                )
            return self.path.read_bytes()
        except OSError as error:
            raise SystemTroubleError(f"{self.path.name} cannot be read: {error.strerror}") from error


def music21_collections() -> dict[str, Path]:
    """The folders of music that music21 ships, by name, found without importing it."""
    found = importlib.util.find_spec("music21")
    if found is None or found.origin is None:
        raise SystemTroubleError("music21 is not installed: install wellworn again")
    root = Path(found.origin).parent / "corpus"
    return {folder.name: folder for folder in sorted(root.iterdir()) if folder.is_dir() and _files_in(folder)}


def _files_in(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.suffix.lower() in SUFFIXES and path.is_file())


def _of_music21(name: str) -> Iterator[InputFile]:
    collections = music21_collections()
    if name not in collections:
        near = difflib.get_close_matches(name, collections, n=3) or sorted(collections)
        raise ReadingError(f"music21 ships no collection {name!r} that can be read: there is {', '.join(near)}")
    folder = collections[name]
    for path in _files_in(folder):
        known_as = f"{MUSIC21_PREFIX}{name}/{path.relative_to(folder).as_posix()}"
        yield InputFile(known_as, path, collection=name)


def expand(places: Iterable[str], typed: bytes | None = None) -> list[InputFile]:
    """The files that the words of a command line mean, each once, in order.

    ``typed`` is what stands on standard input, for ``-``. Raises ReadingError for a place where nothing is.
    """
    files: dict[str, InputFile] = {}
    for place in places:
        for file in _expand_one(place, typed):
            files.setdefault(file.name, file)
    return list(files.values())


def _expand_one(place: str, typed: bytes | None) -> Iterable[InputFile]:
    if place == STANDARD_INPUT:
        # Each typed text is a source of its own: only the same text again is the same source.
        digest = hashlib.sha256(typed or b"").hexdigest()[:8]
        return [InputFile(f"{TYPED_NAME} {digest}", None, typed or b"")]
    if place.startswith(MUSIC21_PREFIX):
        return _of_music21(place.removeprefix(MUSIC21_PREFIX))
    if not place.strip():
        raise ReadingError("an empty name is no file: name files or folders")
    try:
        path = Path(place).expanduser()
    except RuntimeError as error:
        raise ReadingError(f"{place}: there is no such user's folder") from error
    if path.is_dir():
        paths = _files_in(path)
        if not paths:
            raise ReadingError(f"folder {place} holds no file of a kind that is read ({', '.join(SUFFIXES)})")
    elif path.exists():
        paths = [path]
    else:
        matches = sorted(glob.glob(str(path), recursive=True))  # noqa: PTH207 (pathlib globs no absolute patterns)
        paths = [Path(found) for found in matches if Path(found).is_file()]
        if not paths:
            raise ReadingError(f"{place}: there is no such file or folder")
    return [InputFile(_name_of(found), found) for found in paths]


def _name_of(path: Path) -> str:
    """A file's full name without detours; bytes that are no UTF-8 are written as escapes."""
    return os.fsencode(os.path.abspath(path)).decode("utf-8", "backslashreplace")  # noqa: PTH100 (resolves no links)
