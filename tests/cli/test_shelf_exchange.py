"""``shelf export`` and ``import``: shared shelves, conflicts, and files of every kind."""

import errno
import json
import os
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from tests.cli.conftest import Run


@pytest.fixture
def shelved(filled: Run) -> Run:
    """A run whose shelf holds two figures, one of them practised."""
    filled("shelf", "add", "Steps", "--like", "1", "1-2:1", "--tag", "turn", "--rating", "4", "--comment", "mine")
    filled("shelf", "add", "Leap", "--notes", "C3 A3 E4 C3")
    assert filled("practice", "log", "Steps", "--bpm", "90", "--on", "2024-03-01").code == 0
    return filled


def changed(path: Path, figure: str, **values: Any) -> None:
    """Change a figure in a file."""
    content = json.loads(path.read_text())
    next(one for one in content["figures"] if one["name"] == figure).update(values)
    path.write_text(json.dumps(content))


def shelf_of(run: Run, *words: str) -> dict[str, Any]:
    """What is on the shelf, by name."""
    return {kept["name"]: kept for kept in run("shelf", "list", "--json", *words).json}


def test_a_shelf_goes_to_another_database_and_comes_back_byte_for_byte(shelved: Run, tmp_path: Path) -> None:
    """With the practice log, when it is asked for."""
    one, two, other = tmp_path / "one.json", tmp_path / "two.json", str(tmp_path / "other.db")
    done = shelved("shelf", "export", one, "--with-practice")
    assert "2 figures written" in done.err
    assert "mind the rights in the music transcribed" in done.err
    done = shelved("shelf", "import", one, "--db", other)
    assert done.code == 0
    assert "new: 2\n  Leap\n  Steps\n" in done.err
    assert "2 added" in done.err
    assert shelved("shelf", "export", two, "--with-practice", "--db", other).code == 0
    assert two.read_bytes() == one.read_bytes()
    assert shelved("shelf", "export", "-", "--with-practice").out.encode() == one.read_bytes()
    # In the other database there is no line to link to, and the words remain.
    assert "from Harbour Steps, Orlo Quist, 1:1-2:1" in shelved("shelf", "show", "Steps", "--db", other).out


def test_the_file_keeps_to_the_schema_that_the_command_prints(shelved: Run, tmp_path: Path) -> None:
    """The jsonschema library, with what ``shelf schema`` says."""
    schema = shelved("shelf", "schema").json
    Draft202012Validator.check_schema(schema)
    file = tmp_path / "x.json"
    shelved("shelf", "export", file)
    Draft202012Validator(schema).validate(json.loads(file.read_text()))
    assert "practice" not in file.read_text()


def test_only_what_is_named_or_tagged_is_exported(shelved: Run, tmp_path: Path) -> None:
    """Unknown names are told before anything is written."""
    file = tmp_path / "x.json"
    told = shelved("shelf", "export", file, "--tag", "turn", "--json")
    assert told.json == {"file": str(file), "figures": ["Steps"]}
    assert shelved("shelf", "export", file, "leap", "--force", "--json").json["figures"] == ["Leap"]
    for words in (("Lep",), ("--tag", "nothing")):
        assert shelved("shelf", "export", tmp_path / "y.json", *words).code == 2
    assert not (tmp_path / "y.json").exists()


def test_nothing_is_written_over_unasked(shelved: Run, tmp_path: Path) -> None:
    """A file that exists, a folder, a missing folder; nothing is left beside it."""
    file = tmp_path / "x.json"
    file.write_text("mine")
    refused = shelved("shelf", "export", file)
    assert (refused.code, "--force" in refused.err, file.read_text()) == (2, True, "mine")
    assert shelved("shelf", "export", tmp_path).code == 2
    missing = shelved("shelf", "export", tmp_path / "no" / "x.json")
    assert (missing.code, "cannot be written" in missing.err) == (2, True)
    assert shelved("shelf", "export", file, "--force").code == 0
    assert json.loads(file.read_text())["version"] == 1
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


@pytest.mark.parametrize("code", [errno.EACCES, errno.EROFS, errno.ENOSPC])
def test_a_folder_that_takes_no_file_is_told(
    shelved: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int
) -> None:
    """Read-only or full: exit code 1, in words, and what stood there stays."""

    def refuse(**_: object) -> None:
        raise OSError(code, os.strerror(code))

    file = tmp_path / "x.json"
    file.write_text("mine")
    monkeypatch.setattr("tempfile.mkstemp", refuse)
    done = shelved("shelf", "export", file, "--force")
    assert (done.code, "cannot be written" in done.err, os.strerror(code) in done.err) == (1, True, True)
    assert file.read_text() == "mine"


def test_what_is_there_already_stays_and_says_so(shelved: Run, tmp_path: Path) -> None:
    """Importing twice is the same as once; new sources and practice entries are added to what is there."""
    file = tmp_path / "x.json"
    shelved("shelf", "export", file)
    before = shelf_of(shelved)
    done = shelved("shelf", "import", file)
    assert "there already: 2" in done.err
    assert "2 left as they are" in done.err
    assert shelf_of(shelved) == before
    changed(
        file,
        "Leap",
        practice=[{"day": "2024-02-02", "bpm": 70}],
        sources=[{"title": "Paper Boats", "passage": "1:1-2:1", "notes": ["C3", "A3"]}],
    )
    told = shelved("shelf", "import", file, "--json").json
    assert [(one["name"], one["state"], one["new_sources"], one["new_practice"], one["done"]) for one in told] == [
        ("Leap", "there", 1, 1, "added to"),
        ("Steps", "there", 0, 0, "left"),
    ]
    assert shelf_of(shelved)["Leap"]["practice"] == [{"day": "2024-02-02", "bpm": 70}]


def test_conflicts_change_nothing_until_something_is_chosen(shelved: Run, tmp_path: Path) -> None:
    """Not even what is new is taken; each difference is told."""
    file = tmp_path / "x.json"
    shelved("shelf", "export", file)
    changed(file, "Steps", rating=1, tags=["turn", "theirs"], comment="theirs")
    changed(file, "Leap", name="New leap")
    before = shelf_of(shelved)
    done = shelved("shelf", "import", file)
    assert done.code == 2
    for words in (
        "new: 1\n  New leap\n",
        "in conflict: 1\n  Steps\n",
        "tags: turn here, theirs, turn in the file",
        "rating: 4 here, 1 in the file",
        "comment: mine here, theirs in the file",
        "nothing was changed: choose --replace",
        "--keep-both",
        "--keep-mine",
    ):
        assert words in done.err, words
    assert shelf_of(shelved) == before
    assert shelved("shelf", "import", file, "--dry-run").code == 0
    assert shelf_of(shelved) == before
    assert shelved("shelf", "import", file, "--replace", "--keep-mine").code == 2


@pytest.mark.parametrize(
    ("option", "ratings", "done"),
    [
        ("--replace", {"Leap": None, "New leap": None, "Steps": 1}, "replaced"),
        ("--keep-both", {"Leap": None, "New leap": None, "Steps": 4, "Steps (2)": 1}, "kept beside"),
        ("--keep-mine", {"Leap": None, "New leap": None, "Steps": 4}, "left"),
    ],
)
def test_conflicts_are_settled_as_chosen(
    shelved: Run, tmp_path: Path, option: str, ratings: dict[str, int | None], done: str
) -> None:
    """What is new comes in whatever is chosen; practice and live links of what is replaced stay."""
    file = tmp_path / "x.json"
    shelved("shelf", "export", file)
    changed(file, "Steps", rating=1)
    changed(file, "Leap", name="New leap")
    told = shelved("shelf", "import", file, option, "--json").json
    assert {one["name"]: one["done"] for one in told} == {"New leap": "added", "Steps": done}
    shelf = shelf_of(shelved)
    assert {name: kept.get("rating") for name, kept in shelf.items()} == ratings
    assert shelf["Steps"]["practice"] == [{"day": "2024-03-01", "bpm": 90}]
    assert shelf["Steps"]["sources"][0]["state"] == "live"


def test_in_a_terminal_each_conflict_is_asked_about(
    shelved: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Replace, keep both, keep mine, stop; an answer that is none is asked again."""
    monkeypatch.setattr("cli.shelf_exchange.is_asked", lambda: True)
    file = tmp_path / "x.json"
    shelved("shelf", "export", file)
    changed(file, "Steps", rating=1)
    changed(file, "Leap", rating=2)
    before = shelf_of(shelved)
    stopped = shelved("shelf", "import", file, typed="b\ns\n")
    assert (stopped.code, "stopped: nothing was changed" in stopped.err) == (2, True)
    assert shelf_of(shelved) == before
    asked = shelved("shelf", "import", file, typed="what\nb\nr\n")
    assert asked.code == 0
    assert "'Leap': [r]eplace mine, keep [b]oth, keep [m]ine, [s]top?" in asked.err
    ratings = {name: kept.get("rating") for name, kept in shelf_of(shelved).items()}
    assert ratings == {"Leap": None, "Leap (2)": 2, "Steps": 1}


def test_near_duplicates_of_what_was_imported_are_offered(shelved: Run, tmp_path: Path) -> None:
    """Under another name, with the changes in words; both stay."""
    file = tmp_path / "x.json"
    shelved("shelf", "export", file, "Leap")
    changed(file, "Leap", name="Leap away", notes=[{"spelling": name} for name in ("C3", "A3", "E4", "Db3")])
    done = shelved("shelf", "import", file)
    words = " ".join(done.err.split())
    assert "'Leap away' is like 'Leap' (0.89, at pitch); in 'Leap': last note resolved differently" in words
    assert 'wellworn shelf merge "Leap" "Leap away"' in words
    assert len(shelf_of(shelved)) == 3


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (
            b'{"format": "wellworn shelf", "version": 7}',
            "version 7, made by a newer wellworn; this one reads version 1",
        ),
        (b'{"format": "wellworn shelf",\n}', "line 2 column 1: broken JSON"),
        (b"[" * 1_000_000, "nested too deeply"),
        (b'"' + b"x" * 15_000_000 + b'"', "is no shelf file"),
        (b"", "broken JSON"),
    ],
)
@pytest.mark.no_sql(reason="refused before the database is asked")
def test_broken_files_are_told_and_nothing_is_changed(shelved: Run, tmp_path: Path, content: bytes, words: str) -> None:
    """Newer, hand-broken, nested, huge, empty."""
    file = tmp_path / "x.json"
    file.write_bytes(content)
    before = shelf_of(shelved)
    done = shelved("shelf", "import", file)
    assert (done.code, words in done.err) == (2, True), done.err[:300]
    assert len(done.err) < 500
    assert shelf_of(shelved) == before


def test_files_that_are_none(shelved: Run, tmp_path: Path) -> None:
    """Missing, a folder, a name that no file can have; and standard input."""
    for name in ("nothing.json", str(tmp_path), "a\0b"):
        assert shelved("shelf", "import", name).code == 2, name
    text = shelved("shelf", "export", "-").out
    assert "there already: 2" in shelved("shelf", "import", "-", typed=text).err
    assert "standard input: line 1 column 1" in shelved("shelf", "import", "-", typed="x").err
