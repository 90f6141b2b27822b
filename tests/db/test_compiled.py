"""Machine code between processes: kept, damaged, out of reach, untrusted, or not to be had."""

import os
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from corpus.match.figure import figure_from_notes
from corpus.match.kernels import Kernels
from db import compiled
from db.compiled import CodeFolder
from db.connection import Database
from db.near import NearQuestion, search_near
from db.search import Question
from tests.db.helpers import store_lines
from tests.generators.lines import walking_line

pytestmark = pytest.mark.no_sql(reason="kernels are kept in files")

ASKED = NearQuestion(Question(figure_from_notes("C3 E3 G3 A3")), 0.75)
CODE = b"some machine code"
KEY = "ab12"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A cache folder that does not exist yet."""
    return tmp_path / "cache" / "kernels"


@pytest.fixture
def fresh() -> Iterator[None]:
    """Kernels are made ready anew in this test and after it."""
    compiled.kernels.cache_clear()
    yield
    compiled.kernels.cache_clear()


def test_code_comes_back_in_a_folder_of_the_users_own(folder: Path) -> None:
    """The folder is made, readable by its owner alone, and holds nothing but the code."""
    CodeFolder(folder).put(KEY, CODE)
    assert CodeFolder(folder).get(KEY) == CODE
    assert CodeFolder(folder).get("other") is None
    assert [file.name for file in folder.iterdir()] == [f"{KEY}.o"]
    assert folder.stat().st_mode & 0o777 == 0o700
    assert (folder / f"{KEY}.o").stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("place", [0, 31, 32, -1])
def test_damaged_code_is_not_taken(folder: Path, place: int) -> None:
    """One wrong byte in the checksum or in the code is enough."""
    CodeFolder(folder).put(KEY, CODE)
    kept = bytearray((folder / f"{KEY}.o").read_bytes())
    kept[place] ^= 1
    (folder / f"{KEY}.o").write_bytes(kept)
    assert CodeFolder(folder).get(KEY) is None


@pytest.mark.parametrize("length", [0, 10, 32, 40])
def test_code_that_was_cut_short_is_not_taken(folder: Path, length: int) -> None:
    """Wherever the file ends."""
    CodeFolder(folder).put(KEY, CODE)
    (folder / f"{KEY}.o").write_bytes((folder / f"{KEY}.o").read_bytes()[:length])
    assert CodeFolder(folder).get(KEY) is None


def test_code_under_another_key_is_not_taken(folder: Path) -> None:
    """The checksum covers the key: code for another processor does not pass under this one's name."""
    CodeFolder(folder).put(KEY, CODE)
    (folder / f"{KEY}.o").rename(folder / "cd34.o")
    assert CodeFolder(folder).get("cd34") is None


@pytest.mark.parametrize("what", ["folder", "file", "link"])
def test_code_that_others_could_have_written_is_not_taken(folder: Path, what: str) -> None:
    """A folder or file that others may write, or a link to somewhere else."""
    CodeFolder(folder).put(KEY, CODE)
    file = folder / f"{KEY}.o"
    if what == "folder":
        folder.chmod(0o777)
    elif what == "file":
        file.chmod(0o666)
    else:
        file.rename(folder / "real")
        file.symlink_to(folder / "real")
    assert CodeFolder(folder).get(KEY) is None


def test_a_folder_that_cannot_be_made_keeps_nothing(folder: Path) -> None:
    """A file stands where the folder should be: nothing is kept, and nothing fails."""
    folder.parent.parent.mkdir(exist_ok=True)
    folder.parent.write_text("in the way")
    CodeFolder(folder).put(KEY, CODE)
    assert CodeFolder(folder).get(KEY) is None


def test_old_code_is_forgotten(folder: Path) -> None:
    """Code of versions long gone does not pile up."""
    for number in range(20):
        CodeFolder(folder).put(f"key{number}", CODE)
        os.utime(folder / f"key{number}.o", ns=(number, number))
    CodeFolder(folder).put("newest", CODE)
    assert len(list(folder.iterdir())) == 8
    assert CodeFolder(folder).get("newest") == CODE


def places(database: Database) -> list[tuple[int, int, int, float]]:
    """What a search finds."""
    with database.reading() as connection:
        hits = search_near(connection, ASKED).hits
    return [(hit.entry.id, hit.occurrence.first, hit.occurrence.last, hit.occurrence.likeness) for hit in hits]


@pytest.fixture
def filled(database: Database) -> Database:
    """Lines in which the figure comes back."""
    store_lines(database, [walking_line(seed, bars=12) for seed in range(6)])
    return database


def test_the_answer_is_the_same_without_compiled_code(
    filled: Database, monkeypatch: pytest.MonkeyPatch, fresh: None
) -> None:
    """Where llvmlite is missing numpy finds the same places in the same order."""
    with_code = places(filled)
    assert compiled.kernels() is not None
    compiled.kernels.cache_clear()
    monkeypatch.setitem(sys.modules, "llvmlite", None)
    monkeypatch.delitem(sys.modules, "corpus.native.machine")
    monkeypatch.delitem(sys.modules, "corpus.native.translate")
    assert compiled.kernels() is None
    assert places(filled) == with_code
    assert with_code


@pytest.mark.parametrize("trouble", ["damaged", "in the way", "read-only"])
def test_the_answer_is_the_same_whatever_became_of_the_cache(
    filled: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fresh: None, trouble: str
) -> None:
    """A damaged file is made again and replaced; a folder that cannot be written is done without."""
    expected = places(filled)
    cache = tmp_path / "cache"
    monkeypatch.setenv("WELLWORN_CACHE", str(cache))
    if trouble == "in the way":
        cache.write_text("no folder")
    else:
        compiled.kernels.cache_clear()
        places(filled)
        (kept,) = (cache / "kernels").iterdir()
        kept.write_bytes(b"no code")
        if trouble == "read-only":
            (cache / "kernels").chmod(0o500)
    compiled.kernels.cache_clear()
    assert places(filled) == expected
    assert compiled.kernels() is not None
    if trouble == "damaged":
        assert CodeFolder(cache / "kernels").get(kept.stem) is not None
    if trouble == "read-only":
        (cache / "kernels").chmod(0o700)


def test_kept_code_is_loaded_without_being_made_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fresh: None
) -> None:
    """The second process never asks LLVM to compile."""
    from corpus.native import machine

    keeper = CodeFolder(tmp_path / "kernels")
    Kernels(keeper).with_lanes()
    monkeypatch.setattr(machine, "machine_code", None)
    assert Kernels(keeper).with_lanes() is not None
