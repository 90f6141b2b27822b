"""``shelf``: keeping, listing, changing, merging figures, and what ``add`` says about them."""

from pathlib import Path

import pytest

from tests.cli.conftest import Run

# Harbour Steps, bar 1 to the first note of bar 2, transposed down a fourth and varied: written by hand.
LATER = """%abc-2.1
X:1
T:Mooring Song
M:4/4
L:1/4
K:F clef=bass transpose=-12
"F6"F,, A,, B,, =B,, | "C7"C, F,, A,, B,, | "F6"F, A, B, =B, | "C7"C4 |]
"""


def test_a_passage_is_kept_with_all_that_stands_about_it(filled: Run) -> None:
    """Notes at sounding pitch, rhythm in ticks, chords with functions and key, tune, player and passage."""
    done = filled("shelf", "add", "Steps up", "--like", "1", "1-2:1", "--tag", "turn, Blues", "--rating", "4")
    assert (done.code, done.out) == (0, "")
    assert "kept 'Steps up': Bb1 D2 Eb2 E2 F2" in done.err
    kept = filled("shelf", "show", "steps UP", "--json").json
    assert [note["spelling"] for note in kept["notes"]] == ["Bb1", "D2", "Eb2", "E2", "F2"]
    assert [note["onset"] for note in kept["notes"]] == [0, 10080, 20160, 30240, 40320]
    assert [(c["symbol"], c["numeral"], c["key"], c["onset"]) for c in kept["chords"]] == [
        ("Bb6", "I", "Bb", 0),
        ("F7", "V", "Bb", 40320),
    ]
    assert (kept["key"], kept["meter"], kept["beat"]) == ("Bb", "4/4", "1")
    assert (kept["tags"], kept["rating"]) == (["Blues", "turn"], 4)
    (source,) = kept["sources"]
    assert (source["title"], source["player"], source["passage"]) == ("Harbour Steps", "Orlo Quist", "1:1-2:1")
    assert (source["state"], source["transcription"], source["first"], source["last"]) == ("live", 1, 0, 4)
    # Bar 5 an octave higher, and bar 7 with doubled notes whose last one is followed by another chord's root.
    assert kept["places"] == 3
    assert [(one["transcription"], one["passage"], one["transposed"]) for one in kept["occurrences"]] == [
        (1, "1:1-2:1", 0),
        (1, "5:1-6:1", 12),
        (1, "7:1-8:1", 0),
    ]


def test_a_typed_figure_is_kept_with_what_was_typed(run: Run) -> None:
    """Without any transcription: lengths, functions and key are said."""
    words = ("--notes", "Bb2 D3 Eb3 E3", "--lengths", "1 1/2 1/2 1", "--chords", "Bb7 Eb7", "--functions", "I7 IV7")
    assert run("shelf", "add", "Typed", *words, "--key", "Bb", "--comment", "one\ntwo").code == 0
    kept = run("shelf", "show", "Typed", "--json").json
    assert [note["duration"] for note in kept["notes"]] == [10080, 5040, 5040, 10080]
    assert [chord["symbol"] for chord in kept["chords"]] == ["Bb7", "Eb7"]
    assert (kept["places"], kept["sources"], kept["comment"]) == (0, [], "one\ntwo")
    page = run("shelf", "show", "Typed").out
    assert "lengths in quarters: 1 1/2 1/2 1\n" in page
    assert "stands in 0 places now" in page


def test_notes_without_octave_lie_as_near_as_they_can(run: Run) -> None:
    """From C3 on; intervals begin there."""
    run("shelf", "add", "Near", "--notes", "Bb D Eb B C")
    run("shelf", "add", "Sizes", "--intervals", "+4 -2")
    notes = {kept["name"]: [n["spelling"] for n in kept["notes"]] for kept in run("shelf", "list", "--json").json}
    assert notes == {"Near": ["Bb2", "D3", "Eb3", "B2", "C3"], "Sizes": ["C3", "E3", "D3"]}


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ((), "say which figure to keep"),
        (("--steps", "+2 +1"), "names none: find it, and keep a place with --like"),
        (("--contour", "*ud"), "names none"),
        (("--roles", "1 3 5"), "names none"),
        (("--notes", "C3 D3", "--intervals", "+1"), "in one way"),
        (("--like", "1", "1", "--notes", "C3 D3"), "in one way"),
        (("--like", "1", "1", "--lengths", "1"), "leave --lengths out"),
        (("--like", "9", "1"), "there is no transcription 9"),
        (("--like", "1", "99"), "there is no bar 99"),
        (("--notes", "C3"), "at least two notes"),
        (("--notes", "C3 D3", "--lengths", "1"), "2 notes have 1 lengths"),
        (("--notes", "C3 D3", "--lengths", "1 0"), "length 0"),
        (("--notes", "C3 D3", "--lengths", "1 1/0"), "no number of quarters"),
        (("--notes", "C3 D3", "--lengths", "1 nan"), "no number of quarters"),
        (("--notes", "C3 D3", "--functions", "ii"), "give --key with --functions"),
        (("--notes", "C3 D3", "--functions", "xx", "--key", "C"), "unknown numeral"),
        (("--notes", "C3 D3", "--chords", "C7 F7", "--functions", "V", "--key", "C"), "2 chords have 1 functions"),
        (("--notes", "C3 D3", "--key", "H"), "unknown key"),
        (("--notes", "C3 D3", "--tag", "\x1b"), "holds nothing that can be printed"),
        (("--notes", "C3 D3", "--comment", "x" * 4001), "too long"),
        (("--notes", "C-1 Cb-1"), "out of every range"),
    ],
)
@pytest.mark.no_sql(reason="refused before the database is asked")
def test_what_cannot_be_kept_is_told(filled: Run, words: tuple[str, ...], message: str) -> None:
    """In words, with exit code 2, and nothing is kept."""
    done = filled("shelf", "add", "Turn", *words)
    assert (done.code, message in done.err) == (2, True), done.err
    assert filled("shelf", "list", "--json").json == []


@pytest.mark.parametrize("name", ["", "   ", "\x1b\x07", "x" * 81])
def test_names_that_are_none_are_refused(run: Run, name: str) -> None:
    """Empty, of control characters alone, too long."""
    done = run("shelf", "add", name, "--notes", "C3 D3")
    assert done.code == 2
    assert "name" in done.err


def test_a_name_is_cleaned_and_taken_once(run: Run) -> None:
    """A terminal's orders are left out; upper and lower case are one name."""
    run("shelf", "add", "Tu\x1b[2Jrn\u202e", "--notes", "C3 D3")
    assert [kept["name"] for kept in run("shelf", "list", "--json").json] == ["Tu[2Jrn"]
    again = run("shelf", "add", "TU[2jRN", "--notes", "C3 E3")
    assert (again.code, "on the shelf already" in again.err) == (2, True)
    assert "\x1b" not in run("shelf", "list").out


def test_an_unknown_name_is_answered_with_names_that_come_near(run: Run) -> None:
    """A typing mistake, or a part of the name; else the list is pointed to."""
    run("shelf", "add", "Turn around F", "--notes", "C3 D3")
    for command in (("show",), ("tag",), ("edit", "--rating", "3"), ("remove",), ("merge", "x")):
        words = (command[0], "Trun around", *command[1:]) if command[0] != "tag" else ("tag", "Trun around", "x")
        assert "did you mean 'Turn around F'?" in run("shelf", *words).err, command
    assert "did you mean 'Turn around F'?" in run("shelf", "show", "around").err
    assert "'wellworn shelf list' shows the names" in run("shelf", "show", "Qzzz").err


def test_near_duplicates_are_offered_and_never_merged_unasked(filled: Run) -> None:
    """Told with likeness, the changes in words, and the command that makes one of them."""
    filled("shelf", "add", "Steps", "--like", "1", "1-2:1", "--tag", "mine", "--rating", "2", "--comment", "first")
    done = filled("shelf", "add", "Steps, higher", "--notes", "C3 E3 F3 F#3 G3", "--tag", "other", "--rating", "5")
    assert "'Steps, higher' has the notes of 'Steps' (down an octave and a major second)" in " ".join(done.err.split())
    assert 'wellworn shelf merge "Steps" "Steps, higher"' in done.err
    assert len(filled("shelf", "list", "--json").json) == 2
    varied = filled("shelf", "add", "Varied", "--notes", "Bb1 D2 Eb2 E2 F#2", "--json")
    # F# to F is the same letter: an altered note costs less than another resolution.
    assert [one["name"] for one in varied.json["alike"]] == ["Steps", "Steps, higher"]
    assert varied.json["alike"][0]["changes"] == ["fifth note lowered by a half-step"]
    assert filled("shelf", "add", "Unlike", "--notes", "C2 G4 Db3 A2", "--json").json["alike"] == []


def test_merging_unites_tags_comments_sources_and_practice(filled: Run) -> None:
    """Name and notes are the first one's; the higher rating stays."""
    filled("shelf", "add", "One", "--like", "1", "1-2:1", "--tag", "a,b", "--rating", "2", "--comment", "first")
    filled("shelf", "add", "Two", "--like", "1", "5-6:1", "--tag", "B,c", "--rating", "5", "--comment", "second")
    filled("practice", "log", "One", "--bpm", "80", "--on", "2024-03-02")
    filled("practice", "log", "Two", "--bpm", "90", "--on", "2024-03-01")
    assert filled("shelf", "merge", "one", "two").code == 0
    (kept,) = filled("shelf", "list", "--json").json
    assert (kept["name"], kept["tags"], kept["rating"], kept["comment"]) == (
        "One",
        ["a", "b", "c"],
        5,
        "first\n\nsecond",
    )
    assert [source["passage"] for source in kept["sources"]] == ["1:1-2:1", "5:1-6:1"]
    assert [entry["bpm"] for entry in kept["practice"]] == [90, 80]
    assert filled("shelf", "merge", "One", "ONE").code == 2
    assert len(filled("shelf", "list", "--json").json) == 1


def test_the_list_is_filtered_by_tags_family_and_rating(run: Run) -> None:
    """All tags asked for must be there."""
    run("shelf", "add", "A", "--notes", "C3 D3", "--tag", "x", "--tag", "Y", "--rating", "3", "--family", "Steps")
    run("shelf", "add", "B", "--notes", "C3 F3 G3 B3", "--tag", "x")

    def names(*words: str) -> list[str]:
        return [kept["name"] for kept in run("shelf", "list", "--json", *words).json]

    assert names("--tag", "X") == ["A", "B"]
    assert names("--tag", "x", "--tag", "y") == ["A"]
    assert names("--family", "steps") == names("--rating", "3") == ["A"]
    assert names("--rating", "4") == []
    shown = run("shelf", "list")
    assert "figure" in shown.out
    assert "2 figures" in shown.err


def test_details_are_changed_and_cleared(run: Run) -> None:
    """Everything but the notes; one bad value and nothing is changed."""
    run("shelf", "add", "A", "--notes", "C3 D3", "--rating", "3")
    assert run("shelf", "add", "B", "--notes", "C3 F3 G3 B3").code == 0
    assert (
        run("shelf", "edit", "A", "--name", "Long A", "--comment", "c", "--family", "f", "--lengths", "1 2").code == 0
    )
    assert run("shelf", "edit", "long a", "--functions", "ii V", "--key", "Cm").code == 0
    kept = run("shelf", "show", "Long A", "--json").json
    assert [chord["numeral"] for chord in kept["chords"]] == ["ii", "V"]
    assert (kept["comment"], kept["family"], kept["key"], kept["notes"][1]["onset"]) == ("c", "f", "Cm", 10080)
    for words in (("--name", "b"), ("--name", ""), ("--key", "H"), ("--lengths", "1"), ("--clear", "notes"), ()):
        assert run("shelf", "edit", "Long A", "--rating", "5", *words).code == (2 if words else 0), words
        run("shelf", "edit", "Long A", "--rating", "3")
    cleared = ("rating", "comment", "family", "chords", "key", "lengths")
    assert run("shelf", "edit", "Long A", *(word for name in cleared for word in ("--clear", name))).code == 0
    kept = run("shelf", "show", "Long A", "--json").json
    assert not {"rating", "comment", "family", "chords", "key"} & set(kept)
    assert "onset" not in kept["notes"][0]
    assert run("shelf", "edit", "Long A").code == 2


def test_tags_are_added_and_taken_away(run: Run) -> None:
    """A tag that is not there cannot be taken away."""
    run("shelf", "add", "A", "--notes", "C3 D3", "--tag", "x")
    assert "'A': blues, x" in run("shelf", "tag", "A", "blues").err
    assert "'A': blues" in run("shelf", "tag", "A", "--remove", "X").err
    missing = run("shelf", "tag", "A", "--remove", "x")
    assert (missing.code, "has no tag 'x': it has blues" in missing.err) == (2, True)
    assert run("shelf", "tag", "A").code == 2


def test_removing_asks_for_more_where_practice_would_be_lost(run: Run) -> None:
    """All of the names or none."""
    run("shelf", "add", "A", "--notes", "C3 D3")
    run("shelf", "add", "B", "--notes", "C3 E3 B3")
    run("practice", "log", "B", "--bpm", "90")
    refused = run("shelf", "remove", "A", "B")
    assert (refused.code, "1 practice entry would be gone too" in refused.err) == (2, True)
    assert len(run("shelf", "list", "--json").json) == 2
    assert run("shelf", "remove", "A", "B", "--force").code == 0
    assert run("shelf", "list", "--json").json == []


def test_a_removed_line_leaves_words(filled: Run) -> None:
    """And the ID of another line is not mistaken for it."""
    filled("shelf", "add", "A", "--like", "1", "1-2:1")
    filled("remove", "1", "2")
    assert "from Harbour Steps, Orlo Quist, 1:1-2:1 (no longer among the lines)" in filled("shelf", "show", "A").out
    assert filled("shelf", "show", "A", "--json").json["sources"][0]["transcription"] is None


def test_adding_lines_tells_new_places_of_kept_figures(filled: Run, tmp_path: Path) -> None:
    """Counted in the lines just added alone; what is added again is not new."""
    filled("shelf", "add", "Steps", "--like", "1", "1-2:1")
    filled("shelf", "add", "Elsewhere", "--notes", "C2 G4 Db3 A2")
    later = tmp_path / "later.abc"
    later.write_text(LATER)
    done = filled("add", later)
    assert "2 new places for 'Steps' (line 3)" in done.err
    assert "Elsewhere" not in done.err
    assert "new place" not in filled("add", later).err
    # One more place in the new state of the file: the two that were there are not told again.
    later.write_text(LATER.replace('"C7"C4 |]', '"C7"C4 | "F6"F, A, B, =B, | "C7"C4 |]'))
    assert "1 new place for 'Steps' (line 3)" in filled("add", later, "--replace").err


def test_adding_says_nothing_without_a_shelf(filled: Run, tmp_path: Path) -> None:
    """No word of places."""
    later = tmp_path / "later.abc"
    later.write_text(LATER)
    assert "place" not in filled("add", later).err


def test_a_figure_is_kept_from_a_file_that_is_not_stored(run: Run, tmp_path: Path) -> None:
    """Its source has words and no link."""
    later = tmp_path / "later.abc"
    later.write_text(LATER)
    assert run("shelf", "add", "A", "--like", str(later), "1").code == 0
    (source,) = run("shelf", "show", "A", "--json").json["sources"]
    assert (source["title"], source["state"], source["transcription"]) == ("Mooring Song", "gone", None)


def test_every_command_of_the_groups_has_help_with_an_example(run: Run) -> None:
    """As those outside have."""
    for group, names in (
        ("shelf", ("add", "list", "show", "edit", "tag", "remove", "merge", "export", "import", "schema")),
        ("practice", ("log", "due", "progress")),
    ):
        for name in names:
            shown = run(group, name, "--help")
            assert (shown.code, f"wellworn {group} {name}" in shown.out) == (0, True), name


def test_json_is_alone_on_standard_output(filled: Run) -> None:
    """Words go to standard error."""
    assert filled("shelf", "add", "A", "--notes", "C3 D3", "--json").json == {"name": "A", "alike": []}
    assert filled("shelf", "tag", "A", "x", "--json").json["tags"] == ["x"]
    assert filled("shelf", "edit", "a", "--rating", "2", "--json").json["rating"] == 2
    filled("shelf", "add", "B", "--notes", "C3 D3")
    assert filled("shelf", "merge", "A", "B", "--json").json["name"] == "A"
    assert filled("shelf", "remove", "a", "A", "--json").json == {"removed": ["A"]}
