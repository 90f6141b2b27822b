"""``find`` at the command line: ways of asking, output formats, filters, and bad questions."""

import csv
import io

import pytest

from tests.cli.conftest import Run

HIT_NAMES = [
    "transcription",
    "title",
    "player",
    "collection",
    "source",
    "chorus",
    "section",
    "bar",
    "beat",
    "pass",
    "first",
    "last",
    "transposed",
    "likeness",
    "changes",
]


def places(run: Run, *words: str) -> list[tuple[int, int, float, int | None]]:
    """Transcription, bar, beat and transposition of every hit."""
    return [(h["transcription"], h["bar"], h["beat"], h["transposed"]) for h in run("find", *words, "--json").json]


def test_a_figure_is_found_by_notes_in_any_key_with_its_place(filled: Run) -> None:
    """Bb2 D3 Eb3 E3 stands in bar 1, an octave up in bar 5, and a major third up in the other tune."""
    hits = filled("find", "--notes", "Bb2 D3 Eb3 E3", "--json").json
    assert [list(hit)[: len(HIT_NAMES)] for hit in hits] == [HIT_NAMES] * 2
    first, second = hits
    assert (first["bar"], first["beat"], first["chorus"], first["section"]) == (1, 1, 1, "A")
    assert (first["first"], first["last"], first["transposed"], first["likeness"]) == (0, 3, -12, 1.0)
    assert (first["title"], first["player"], first["collection"]) == ("Harbour Steps", "Orlo Quist", "practice room")
    assert (second["bar"], second["chorus"], second["transposed"], second["pass"]) == (5, 2, 0, 1)
    assert (first["changes"], first["notes"], first["chords"]) == ([], ["Bb1", "D2", "Eb2", "E2"], ["Bb6"])


def test_every_way_of_asking(filled: Run) -> None:
    """Notes without octaves, printed accidentals, intervals, steps, contour and a passage find the same place."""
    assert places(filled, "--notes", "B♭ D E♭ E")[0][:2] == (1, 1)
    assert places(filled, "--intervals", "+4 +1 +1") == [(1, 1, 1, None), (1, 5, 1, None)]
    assert (1, 1, 1, None) in places(filled, "--steps", "+2 +1 0")
    assert (1, 1, 1, None) in places(filled, "--contour", "*uuu")
    assert places(filled, "--like", "1", "1") == [(1, 1, 1, 0), (1, 5, 1, 12)]
    assert places(filled, "--like", "1", "1:1-1:4", "--rhythm", "same") == [(1, 1, 1, 0), (1, 5, 1, 12)]


def test_folds_let_more_through(filled: Run) -> None:
    """Doubled eighths in bar 7 match when doubles are ignored, and stretch to half the length."""
    question = ("--like", "1", "1", "--ignore", "doubles")
    assert places(filled, *question) == [(1, 1, 1, 0), (1, 5, 1, 12), (1, 7, 1, 0)]
    assert places(filled, *question, "--rhythm", "stretched")[-1] == (1, 7, 1, 0)
    assert places(filled, "--notes", "D4 F4 G4 G#4", "--ignore", "mode")[0][0] == 1


def test_filters_at_the_command_line(filled: Run) -> None:
    """Player, tune, section, collection, tempo and year."""
    figure = ("--contour", "*uu")
    everything = places(filled, *figure)
    assert {place[0] for place in everything} == {1, 2}
    assert {p[0] for p in places(filled, *figure, "--player", "orlo")} == {1}
    assert {p[0] for p in places(filled, *figure, "--tune", "boats")} == {2}
    assert {p[0] for p in places(filled, *figure, "--tempo", "150-")} == {1}
    assert {p[0] for p in places(filled, *figure, "--year", "1990-1999")} == {1}
    assert {p[0] for p in places(filled, *figure, "--section", "a")} == {1}
    assert places(filled, *figure, "--collection", "practice") == everything
    assert places(filled, *figure, "--collection", "stage") == []


def test_limit_caps_the_hits_and_the_total_is_still_told(filled: Run) -> None:
    """One hit on standard output, the number of all on standard error."""
    done = filled("find", "--notes", "Bb2 D3 Eb3 E3", "--json", "--limit", "1")
    assert len(done.json) == 1
    assert "2 places, 1 shown" in done.err


def test_csv_has_a_header_and_a_row_a_hit(filled: Run) -> None:
    """The columns are those of JSON."""
    rows = list(csv.DictReader(io.StringIO(filled("find", "--intervals", "+4 +1 +1", "--csv").out)))
    assert [row["bar"] for row in rows] == ["1", "5"]
    assert list(rows[0])[: len(HIT_NAMES)] == HIT_NAMES


def test_the_table_for_people_names_place_and_transposition(filled: Run) -> None:
    """A heading, then the tune, then a line a hit, within 80 columns here."""
    done = filled("find", "--notes", "Bb2 D3 Eb3 E3")
    lines = done.out.splitlines()
    assert lines[0].split() == ["chorus", "section", "bar", "beat", "transposed", "notes", "chords"]
    assert lines[1] == "1  Harbour Steps, Orlo Quist"
    assert "down an octave" in lines[2]
    assert "at pitch" in lines[3]
    assert all(len(line) <= 80 for line in lines)
    assert "2 places" in done.err


def test_nothing_found_is_said_and_is_no_error(filled: Run) -> None:
    """An empty array, a word on standard error, exit 0."""
    done = filled("find", "--notes", "C3 C#3 C3 C#3 C3", "--json")
    assert (done.code, done.json) == (0, [])
    assert "not found" in done.err


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((), "say which figure"),
        (("--notes", "C D", "--steps", "1"), "--notes and --steps are given"),
        (("--notes", "Q3 D3"), "unknown note name 'Q3'"),
        (("--intervals", "four"), "'four' is no interval"),
        (("--like", "99", "1"), "no transcription 99"),
        (("--like", "1", "77"), "no bar 77"),
        (("--like", "x", "1"), "x"),
        (("--notes", "C D", "--ignore", "keys"), "cannot ignore 'keys'"),
        (("--notes", "C D", "--rhythm", "same"), "needs a figure that has rhythm"),
        (("--notes", "C D", "--rhythm", "loose"), "choose any, stretched or same"),
        (("--notes", "C D", "--tempo", "fast"), "is no range"),
        (("--notes", "C D", "--year", "1999-1990"), "runs backwards"),
        (("--notes", "C D", "--limit", "0"), "0"),
        (("--notes", "C D", "--json", "--csv"), "exclude each other"),
        (("--nots", "C D"), "nots"),
    ],
)
def test_bad_questions_are_answered_in_words_with_exit_2(filled: Run, words: tuple[str, ...], told: str) -> None:
    """The bad value is named; nothing goes to standard output; no traceback."""
    done = filled("find", *words)
    assert (done.code, done.out) == (2, "")
    assert told in done.err
    assert "Traceback" not in done.err


@pytest.mark.sqlite_only(reason="a file that is not there; there is db/test_server")
def test_without_a_database_the_first_step_is_told(run: Run) -> None:
    """Searching before anything was added."""
    done = run("find", "--notes", "C D")
    assert (done.code, "wellworn add" in done.err) == (2, True)
