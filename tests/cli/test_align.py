"""``align`` at the command line: two passages under each other, as JSON, from files, and what cannot be aligned."""

from pathlib import Path

import pytest

from tests.cli.conftest import Run

pytestmark = pytest.mark.no_sql(reason="what is drawn comes from a line or figure in memory")

FILE = """X:1
T:Pier
M:4/4
L:1/4
K:C clef=bass transpose=-12
C, E, G, B, |]
"""


@pytest.fixture
def pier(tmp_path: Path) -> Path:
    """A file with one line that is not in the database."""
    path = tmp_path / "pier.abc"
    path.write_text(FILE)
    return path


@pytest.fixture(autouse=True)
def no_configuration(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The prices that are shipped, whoever runs the tests."""
    monkeypatch.setenv("WELLWORN_CONFIG", str(tmp_path / "none.toml"))


def test_notes_stand_under_each_other(filled: Run) -> None:
    """Bar 1 and bar 5: the same an octave up."""
    done = filled("align", "1", "1", "1", "5")
    assert (done.code, done.err) == (0, "")
    assert done.out.splitlines() == [
        "1 1  Bb1 D2  Eb2 E2",
        "1 5  Bb2 D3  Eb3 E3",
        "",
        "likeness 1.00, up an octave",
        "  no change",
    ]


def test_what_the_other_has_not_is_a_dot(filled: Run) -> None:
    """Doubled eighths in bar 7: four repeats at 0.05 of four notes."""
    assert filled("align", "1", "1", "1", "7").out.splitlines() == [
        "1 1  Bb1 .   D2  .   Eb2 .   E2  .",
        "1 7  Bb1 Bb1 D2  D2  Eb2 Eb2 E2  E2",
        "",
        "likeness 0.95, at pitch",
        "  every note doubled",
    ]


def test_json_holds_pairs_changes_and_edits(filled: Run) -> None:
    """Four repeats, said once."""
    answer = filled("align", "1", "1", "1", "7", "--json").json
    assert list(answer) == ["likeness", "price", "transposed", "changes", "edits", "notes"]
    assert (answer["likeness"], answer["price"], answer["transposed"]) == (0.95, 0.2, 0)
    assert answer["changes"] == ["every note doubled"]
    repeats = [edit for edit in answer["edits"] if edit["kind"] == "repeats"]
    assert [(edit["notes"], edit["amounts"]) for edit in repeats] == [([n], [2]) for n in (1, 2, 3, 4)]
    assert [edit["words"] for edit in repeats] == ["every note doubled", None, None, None]
    assert answer["notes"][:2] == [
        [{"index": 0, "spelling": "Bb1"}, {"index": 24, "spelling": "Bb1"}],
        [None, {"index": 25, "spelling": "Bb1"}],
    ]


def test_doubles_and_octaves_may_be_ignored(filled: Run) -> None:
    """Then they cost nothing, and are told all the same."""
    answer = filled("align", "1", "1", "1", "7", "--ignore", "doubles", "--json").json
    assert (answer["likeness"], answer["price"], answer["changes"]) == (1, 0, ["every note doubled"])


def test_two_files_need_no_database(run: Run, pier: Path, study: Path, tmp_path: Path) -> None:
    """F A C E flat in bar 2 of the study beside C E G B in the file, and none is stored."""
    done = run("align", pier, "all", f"{study}#1", "2", "--json")
    assert done.code == 0
    answer = done.json
    assert [[side and side["spelling"] for side in pair] for pair in answer["notes"]] == [
        ["C2", "F2"],
        ["E2", "A1"],
        ["G2", "C2"],
        ["B2", "Eb2"],
    ]
    assert answer["transposed"] == -7
    assert answer["changes"] == ["first note an octave higher", "seventh lowered (note 4)"]
    assert not (tmp_path / "lines.db").exists()


def test_other_prices(run: Run, pier: Path, study: Path) -> None:
    """An octave and a note altered on its letter: 0.1 and 0.3 of four notes, or 0.5 and 0.4 between versions."""
    words = ("align", pier, "all", f"{study}#1", "2", "--json")
    figures, versions = run(*words).json, run(*words, "--prices", "versions").json
    assert (figures["price"], figures["likeness"]) == (0.4, 0.9)
    assert (versions["price"], versions["likeness"]) == (0.9, 0.775)


def test_long_passages_are_broken_into_rows_of_the_page(filled: Run) -> None:
    """The name stands before the first row only."""
    lines = filled("align", "1", "all", "1", "all").out.splitlines()
    assert all(len(line) <= 80 for line in lines)
    assert [line[:5] for line in lines].count("1 all") == 2
    assert "likeness 1.00, at pitch" in lines


@pytest.mark.parametrize(
    ("first", "second"),
    [
        # One note in common: nothing lies between two of them.
        ("1:1-1:2", "3:1-3:2"),
        ("1:2-1:3", "2:1-2:2"),
        ("1:3-1:4", "2:3-2:4"),
        # A step up and a step down.
        ("1:2-1:3", "4:1-4:2"),
    ],
)
def test_passages_with_little_in_common(filled: Run, first: str, second: str) -> None:
    """Two notes beside two others are told like any others."""
    done = filled("align", "1", first, "1", second)
    assert (done.code, "Traceback" in done.err) == (0, False)
    assert "likeness" in done.out


def test_passages_with_one_note_in_common(filled: Run) -> None:
    """A whole step down beside a whole step up: only one note stands for another."""
    done = filled("align", "1", "4:2-4:3", "2", "1:2-1:3")
    assert (done.code, "Traceback" in done.err) == (0, False)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("1", "77", "1", "5"), "no bar 77"),
        (("99", "1", "1", "5"), "no transcription 99"),
        (("1", "1", "nowhere.abc", "all"), "nowhere.abc"),
        (("1", "1:1", "1", "5"), "at least two notes"),
        (("1", "1", "1", "5", "--ignore", "keys"), "cannot ignore 'keys'"),
        (("1", "1", "1", "5", "--prices", "mine"), "no table of prices 'mine': choose figures or versions"),
        (("1", "one", "1", "5"), "one"),
        (("0", "1", "1", "5"), "0 is no ID"),
    ],
)
def test_what_cannot_be_aligned_is_told_with_exit_2(filled: Run, words: tuple[str, ...], told: str) -> None:
    """The bad value is named; nothing goes to standard output; no traceback."""
    done = filled("align", *words)
    assert (done.code, done.out) == (2, "")
    assert told in done.err
    assert "Traceback" not in done.err
