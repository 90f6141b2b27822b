"""``find --near`` and ``prices`` at the command line: answers, options that go with them, bad questions."""

import csv
import io
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest

from corpus.match.prices import Prices
from tests.cli.conftest import Run

FIGURE = ("--notes", "Bb2 D3 Eb3 E3", "--near")
PRICES = """[prices.figures]
octave = 0.1
doubled = 0.05
altered = 0.3
half_step = 0.6
resolved = 0.5
another = 1.0
passing = 0.3
neighbour = 0.3
enclosure = 0.3
approach = 0.4
octave_skip = 0.3
added = 0.8
left_out = 0.7
cut = 0.6
stretched = 0.1
rhythm = 0.2
"""
"""Set here, so that the places found stay the same when the table that is shipped does not."""
MORE = """X:1
T:Rope Ladder
M:4/4
L:1/4
K:C clef=bass transpose=-12
"C6"C, E, G, z | "D7"D, ^F, A, z | "E7"E, ^G, B, z | "C6"C, z3 |
"C6"G, E, C, z | "C6"C, z3 | z4 | z4 | "F6"F, _D, _B,, z |]

X:2
T:Dead Calm
M:4/4
L:1/4
K:C clef=bass transpose=-12
C, !style=x!E, G, C |]
"""


@pytest.fixture(autouse=True)
def configuration(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """The configuration file in force: fixed prices."""
    path = tmp_path / "config.toml"
    path.write_text(PRICES)
    monkeypatch.setenv("WELLWORN_CONFIG", str(path))
    return path


@pytest.fixture
def more(tmp_path: Path) -> Path:
    """A file that is not in the database: a sequence, a retrograde and an inversion; and a line with a dead note."""
    path = tmp_path / "more.abc"
    path.write_text(MORE)
    return path


def ranked(run: Run, *words: str) -> list[tuple[int, int, float]]:
    """Transcription, bar and likeness of the hits, best first."""
    done = run("find", *words, "--json")
    assert done.code == 0, done.err
    return [(hit["transcription"], hit["bar"], hit["likeness"]) for hit in done.json]


def changes(run: Run, *words: str) -> list[list[str]]:
    """The words of the hits."""
    return [hit["changes"] for hit in run("find", *words, "--json").json]


def refused(run: Run, *words: str) -> str:
    """What is told of a bad question: exit 2, nothing on standard output, no traceback."""
    done = run("find", *words)
    assert (done.code, done.out) == (2, "")
    assert "Traceback" not in done.err
    return done.err


def test_the_hits_for_people_say_where_what_and_what_was_changed(filled: Run) -> None:
    """Twice unchanged, doubled, and with the second note lowered; at most 80 columns."""
    done = filled("find", *FIGURE)
    assert done.out.splitlines() == [
        "1.00  1  Harbour Steps, Orlo Quist",
        "      chorus 1 A, bar 1 beat 1, down an octave",
        "      Bb1 D2 Eb2 E2   (Bb6)",
        "      no change",
        "1.00  1  Harbour Steps, Orlo Quist",
        "      chorus 2 A, bar 5 beat 1, at pitch",
        "      Bb2 D3 Eb3 E3   (Bb6)",
        "      no change",
        "0.97  1  Harbour Steps, Orlo Quist",
        "      chorus 2 A, bar 7 beat 1, down an octave",
        "      Bb1 Bb1 D2 D2 Eb2 Eb2 E2 E2   (Bb6)",
        "      every note doubled",
        "0.93  2  Paper Boats, Tamsin Vey",
        "      chorus 1, bar 1 beat 1, up an octave and a major third",
        "      D4 F4 G4 G#4",
        "      second note lowered by a half-step",
    ]
    assert done.err == "Bb2 D3 Eb3 E3: 4 places\n"


def test_json_holds_likeness_words_and_edits(filled: Run) -> None:
    """A third lowered: 0.3 of four notes."""
    hit = filled("find", *FIGURE, "--json").json[3]
    assert (hit["likeness"], hit["transposed"], hit["notes"]) == (0.925, 16, ["D4", "F4", "G4", "G#4"])
    assert hit["changes"] == ["second note lowered by a half-step"]
    assert hit["edits"] == [
        {
            "kind": "altered",
            "notes": [2],
            "amounts": [-1],
            "how": None,
            "words": "second note lowered by a half-step",
        }
    ]


def test_edits_say_what_need_not_be_said(filled: Run) -> None:
    """Every note doubled is said once, and stands four times among the edits."""
    edits = filled("find", *FIGURE, "--json").json[2]["edits"]
    assert [(edit["kind"], edit["notes"], edit["amounts"]) for edit in edits] == [
        ("repeats", [note], [2]) for note in (1, 2, 3, 4)
    ]
    assert [edit["words"] for edit in edits] == ["every note doubled", None, None, None]


def test_edits_tell_what_an_added_note_is(filled: Run, configuration: Path) -> None:
    """Bb D E is found in bar 1 with E flat in between: from D up a half-step, at 0.15 of three notes."""
    configuration.write_text("[prices.figures]\npassing = 0.15\n")
    hit = filled("find", "--notes", "Bb2 D3 E3", "--near", "--json").json[0]
    assert (hit["bar"], hit["likeness"]) == (1, 0.95)
    (edit,) = hit["edits"]
    assert (edit["kind"], edit["notes"], edit["amounts"], edit["how"]) == ("added", [2], [1], "passing")
    assert edit["words"] == "passing note added after the second note (Eb2)"


def test_csv_has_likeness_and_changes(filled: Run) -> None:
    """One row a hit, best first."""
    rows = list(csv.DictReader(io.StringIO(filled("find", *FIGURE, "--csv").out)))
    assert [(row["bar"], row["likeness"], row["changes"]) for row in rows] == [
        ("1", "1.0", ""),
        ("5", "1.0", ""),
        ("7", "0.975", "every note doubled"),
        ("1", "0.925", "second note lowered by a half-step"),
    ]


def test_a_map_marks_the_places(filled: Run) -> None:
    """Beneath the hits, the choruses in which they stand; four bars a row, the third of the second chorus doubled."""
    out = filled("find", *FIGURE, "--map", "--player", "orlo").out
    assert "every note doubled" in out
    assert "Chorus 1 of 2" in out
    assert "Chorus 2 of 2" in out
    assert "A = Bb2 D3 Eb3 E3" in out


def test_the_threshold_is_the_least_likeness(filled: Run) -> None:
    """A place just as like is let through."""
    for threshold, count in (("1", 2), ("0.98", 2), ("0.975", 3), ("0.93", 3), ("0.925", 4)):
        assert len(ranked(filled, *FIGURE, "--threshold", threshold)) == count


def test_a_threshold_of_0_ranks_all_that_there_is(filled: Run) -> None:
    """The best still come first, and 40 are shown unless more are asked for."""
    places = ranked(filled, *FIGURE, "--threshold", "0")
    assert places[:2] == [(1, 1, 1.0), (1, 5, 1.0)]
    assert [place[2] for place in places] == sorted((place[2] for place in places), reverse=True)
    assert 4 < len(places) <= 40


def test_a_limit_shows_the_closest_and_says_that_there_are_more(filled: Run) -> None:
    """As many as asked for; where it is no limit, all are counted."""
    done = filled("find", *FIGURE, "--limit", "2", "--json")
    assert [hit["bar"] for hit in done.json] == [1, 5]
    assert done.err == "Bb2 D3 Eb3 E3: the 2 closest places; --limit shows more\n"
    assert filled("find", *FIGURE, "--limit", "4").err == "Bb2 D3 Eb3 E3: 4 places\n"


def test_nothing_like_it_is_said_with_a_way_out(filled: Run) -> None:
    """An empty array, exit 0."""
    done = filled("find", "--notes", "C3 C#4 C2 F#5 C3 B0 C6", "--near", "--json")
    assert (done.code, done.json) == (0, [])
    assert "not found; a lower --threshold lets more through" in done.err


def test_the_prices_of_versions(filled: Run) -> None:
    """Among versions a repeat is as bad as another note: the doubled place falls out, an altered note costs 0.4."""
    assert ranked(filled, *FIGURE, "--prices", "versions", "--threshold", "0.85") == [
        (1, 1, 1.0),
        (1, 5, 1.0),
        (2, 1, 0.9),
    ]
    assert ranked(filled, *FIGURE, "--prices", "figures") == ranked(filled, *FIGURE)


@pytest.mark.parametrize(
    ("figure", "fold", "place"),
    [
        (("--like", "1", "1"), "doubles", (1, 7, 1.0)),
        (("--notes", "Bb2 D4 Eb3 E3"), "octaves", (1, 1, 1.0)),
        (("--like", "1", "1"), "mode", (2, 1, 1.0)),
    ],
)
def test_what_is_ignored_costs_nothing(filled: Run, figure: tuple[str, ...], fold: str, place: tuple[Any, ...]) -> None:
    """A place that was a change away is then as like as can be."""
    assert place not in ranked(filled, *figure, "--near")
    assert place in ranked(filled, *figure, "--near", "--ignore", fold)


def test_rhythm_counts_where_it_is_asked_for(filled: Run) -> None:
    """In bar 7 each note lasts as long as in bar 1, but struck twice; all in quarters costs nothing."""
    free = ranked(filled, "--like", "1", "1", "--near")
    same = ranked(filled, "--like", "1", "1", "--near", "--rhythm", "same")
    assert same[:2] == free[:2] == [(1, 1, 1.0), (1, 5, 1.0)]
    costs = {(place, bar): likeness for place, bar, likeness in free}
    assert all(likeness <= costs[place, bar] for place, bar, likeness in same)


def test_filters_hold(filled: Run) -> None:
    """Player, tune, section and beat."""
    everywhere = ranked(filled, *FIGURE)
    assert ranked(filled, *FIGURE, "--player", "orlo") == everywhere[:3]
    assert ranked(filled, *FIGURE, "--tune", "boats") == everywhere[3:]
    assert ranked(filled, *FIGURE, "--section", "a") == everywhere[:3]
    assert ranked(filled, *FIGURE, "--section", "bridge") == []
    assert ranked(filled, *FIGURE, "--beat", "1") == everywhere
    assert ranked(filled, *FIGURE, "--beat", "2") == []


def test_harmony_around_it_holds(filled: Run) -> None:
    """Over the tonic, and on its raised eleventh; the other tune has no chords."""
    everywhere = ranked(filled, *FIGURE)
    assert ranked(filled, *FIGURE, "--over", "I") == everywhere[:3]
    assert ranked(filled, *FIGURE, "--lands-on", "#11") == everywhere[:3]
    assert ranked(filled, *FIGURE, "--lands-on", "5") == []
    assert filled("find", *FIGURE, "--over", "I").err == "Bb2 D3 Eb3 E3 over I: 3 places\n"


def test_a_line_in_a_file_is_asked_for_and_not_added(filled: Run, more: Path, study: Path) -> None:
    """All of it, or bars of one of several; the database still holds two lines."""
    assert refused(filled, "--like", str(more), "all", "--near")
    assert changes(filled, "--like", f"{study}#1", "1", "--near")[:3] == [[], [], ["every note doubled"]]
    found = ranked(filled, "--like", f"{study}#2", "1-2", "--near", "--threshold", "0.95")
    assert found == [(2, 1, 1.0)]
    single = study.parent / "single.abc"
    single.write_text("X:1\nT:One\nM:4/4\nL:1/4\nK:Bb clef=bass transpose=-12\nB,, D, E, =E, |]\n")
    assert [place[:2] for place in ranked(filled, "--like", str(single), "all", "--near")][:2] == [(1, 1), (1, 5)]
    assert [entry["transcription"] for entry in filled("list", "--json").json] == [1, 2]


def test_a_figure_turned_round_is_found_and_named(filled: Run, more: Path) -> None:
    """C E G backwards in bar 5, upside down (F D flat B flat) in bar 9."""
    assert filled("add", more).code == 0
    figure = ("--notes", "C3 E3 G3", "--threshold", "1", "--near", "--tune", "ladder")
    assert [(hit["bar"], hit["changes"]) for hit in filled("find", *figure, "--json").json] == [
        (1, []),
        (2, []),
        (3, []),
    ]
    turned = filled("find", *figure, "--also", "retrograde,inversion", "--json").json
    assert [(hit["bar"], hit["changes"]) for hit in turned] == [
        (1, []),
        (2, []),
        (3, []),
        (5, ["retrograde"]),
        (9, ["inversion"]),
    ]
    assert turned[3]["edits"][0]["kind"] == "retrograde"


def test_forms_without_near_are_exact(filled: Run, more: Path) -> None:
    """``--also`` alone asks for nothing but the forms."""
    assert filled("add", more).code == 0
    found = filled("find", "--notes", "C3 E3 G3", "--also", "retrograde", "--tune", "ladder", "--json").json
    assert [(hit["bar"], hit["likeness"]) for hit in found] == [(1, 1), (2, 1), (3, 1), (5, 1)]


def test_sequences_are_told_as_one_place(filled: Run, more: Path) -> None:
    """C E G, D F# A, E G# B: three times, a whole step higher each."""
    assert filled("add", more).code == 0
    done = filled("find", "--notes", "C3 E3 G3", "--sequence", "--json")
    (hit,) = done.json
    assert (hit["bar"], hit["notes"]) == (1, ["C2", "E2", "G2", "D2", "F#2", "A2", "E2", "G#2", "B2"])
    assert hit["changes"] == ["sequence: 3 times, each a whole step higher"]
    assert (hit["edits"][0]["kind"], hit["edits"][0]["amounts"]) == ("sequence", [2, 2])
    assert done.err == "C3 E3 G3: 1 place\n"


@pytest.mark.parametrize("column", ["figures", "versions"])
def test_prices_are_shown_as_a_table(run: Run, configuration: Path, column: str) -> None:
    """Every price by name in both tables, and the file that sets one's own."""
    configuration.write_text(f"[prices.{column}]\npassing = 0.123\n")
    done = run("prices")
    lines = done.out.splitlines()
    assert lines[0].split() == ["price", "figures", "versions", "paid", "for"]
    assert [line.split()[0] for line in lines[1:]] == [field.name for field in fields(Prices)]
    place = lines[0].split().index(column)
    assert next(line for line in lines if line.startswith("passing")).split()[place] == "0.123"
    assert str(configuration) in done.err
    assert done.code == 0


def test_the_configuration_changes_prices_and_ranking(filled: Run, configuration: Path) -> None:
    """Where doubles are dear the altered third comes before them: two inside the figure, at 0.25 of four notes."""
    configuration.write_text(PRICES.replace("doubled = 0.05", "doubled = 0.25"))
    assert ranked(filled, *FIGURE) == [(1, 1, 1.0), (1, 5, 1.0), (2, 1, 0.925), (1, 7, 0.875)]
    # Only the table that is asked for.
    assert (1, 7, 0.875) not in ranked(filled, *FIGURE, "--prices", "versions")


def test_half_steps_on_other_letters_cost_nothing_where_no_letters_are_asked_for(
    filled: Run, configuration: Path
) -> None:
    """Intervals have no letters: whatever another letter costs, the answer is the same, best first."""
    asked = ("--intervals", "+4 +1 +2", "--near", "--threshold", "0.85")
    usual = ranked(filled, *asked)
    configuration.write_text(PRICES.replace("half_step = 0.6", "half_step = 0.1"))
    assert ranked(filled, *asked) == usual


def test_without_a_configuration_file_the_prices_are_those_that_are_shipped(filled: Run, configuration: Path) -> None:
    """It need not exist, and may be empty."""
    configuration.write_text("")
    empty = ranked(filled, *FIGURE)
    configuration.unlink()
    assert ranked(filled, *FIGURE) == empty


@pytest.mark.parametrize(
    ("content", "told"),
    [
        ("[prices.figures]\npassing = -0.2\n", ("[prices.figures]", "passing = -0.2", "from 0 to 1")),
        ("[prices.figures]\npassing = 1.2\n", ("[prices.figures]", "passing = 1.2", "from 0 to 1")),
        ("[prices.figures]\npassing = nan\n", ("[prices.figures]", "passing = nan", "from 0 to 1")),
        ("[prices.figures]\npassing = inf\n", ("[prices.figures]", "passing = inf", "from 0 to 1")),
        ("[prices.figures]\npassing = 'low'\n", ("[prices.figures]", "passing = 'low'", "from 0 to 1")),
        ("[prices.figures]\npassing = true\n", ("[prices.figures]", "passing = True", "from 0 to 1")),
        ("[prices.figures]\npasing = 0.2\n", ("[prices.figures]", "'pasing'", "choose from octave, doubled")),
        ("[prices.figure]\npassing = 0.2\n", ("[prices.figures] or [prices.versions]",)),
        ("[price.figures]\npassing = 0.2\n", ("'price'", "[prices.figures]")),
        ("[prices]\npassing = 0.2\n", ("[prices.figures] or [prices.versions]",)),
        ("prices = 3\n", ("[prices.figures] or [prices.versions]",)),
        ("passing = 0.2\n", ("'passing'", "[prices.figures]")),
        ("[prices.figures\npassing", ("no TOML",)),
        ("\x00", ("no TOML",)),
    ],
)
@pytest.mark.no_sql(reason="refused before the database is asked")
def test_a_bad_configuration_is_told_in_words(
    run: Run, configuration: Path, study: Path, content: str, told: tuple[str, ...]
) -> None:
    """Exit 2, before any search; the file, the value and what would do are named."""
    configuration.write_text(content)
    for command in (("prices",), ("align", f"{study}#1", "1", f"{study}#1", "5")):
        done = run(*command)
        assert (done.code, done.out) == (2, "")
        for text in (str(configuration), *told):
            assert text in done.err
        assert "Traceback" not in done.err


def test_a_bad_price_stops_a_search_too(filled: Run, configuration: Path) -> None:
    """The same words as elsewhere."""
    configuration.write_text("[prices.figures]\npassing = -0.2\n")
    assert "passing = -0.2 must be a number from 0 to 1" in refused(filled, *FIGURE)


def test_a_configuration_that_is_no_text_or_a_folder(filled: Run, configuration: Path) -> None:
    """Bytes that are no UTF-8, and a folder in its place."""
    configuration.write_bytes(b"\xff\xfe[prices]")
    assert "no TOML" in refused(filled, *FIGURE)
    configuration.unlink()
    configuration.mkdir()
    told = refused(filled, *FIGURE)
    assert str(configuration) in told
    assert "cannot be read" in told


def test_an_exact_search_does_not_look_at_the_configuration(filled: Run, configuration: Path) -> None:
    """Nor is it stopped by a broken one."""
    configuration.write_text("broken [")
    assert filled("find", "--notes", "Bb2 D3 Eb3 E3").code == 0


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--notes", "C3", "--near"), "at least two notes"),
        ((*FIGURE, "--threshold", "2"), "--threshold 2 must lie between 0 (anything) and 1 (no change at all)"),
        ((*FIGURE, "--threshold", "-1"), "--threshold -1 must lie between 0"),
        ((*FIGURE, "--threshold", "nan"), "--threshold nan must lie between 0"),
        ((*FIGURE, "--threshold", "high"), "high"),
        ((*FIGURE, "--limit", "0"), "0"),
        ((*FIGURE, "--prices", "mine"), "no table of prices 'mine': choose figures or versions"),
        ((*FIGURE, "--also", "sideways"), "unknown form 'sideways': choose from retrograde"),
        ((*FIGURE, "--map", "--csv"), "exclude each other"),
        ((*FIGURE, "--rhythm", "same"), "needs a figure that has rhythm: ask with --like"),
        (("--notes", "C3 E3", "--threshold", "0.9"), "--threshold"),
        (("--notes", "C3 E3", "--prices", "versions"), "--prices"),
        (("--near",), "say which figure"),
        (("--near", "--over", "I V"), "need a figure beside --over"),
        (("--sequence", "--over", "I V"), "need a figure beside --over"),
        (("--near", "--roles", "approach 3"), "--near needs degrees or kinds of notes"),
        (("--near", "--roles", "1 3 5", "--ignore", "mode"), "--ignore mode makes no sense with it"),
        (("--near", "--degrees", "1 3 5", "--ignore", "mode"), "--ignore mode makes no sense with it"),
        (("--near", "--contour", "*uud", "--ignore", "mode"), "--ignore mode makes no sense with it"),
        (("--near", "--contour", "*uud", "--ignore", "octaves"), "octaves cannot be ignored in it"),
        (("--near", "--notes", "C3 C3", "--ignore", "doubles"), "nothing but one repeated note is left"),
        (("--near", "--contour", "*rr", "--ignore", "doubles"), "nothing but one repeated note"),
        (("--near", "--intervals", "+6 +1", "--ignore", "mode"), "ask with --notes"),
        (("--near", "--roles", "1 3 5", "--also", "inversion"), "cannot be turned upside down"),
    ],
)
@pytest.mark.no_sql(reason="refused before the database is asked")
def test_bad_questions_are_answered_in_words_with_exit_2(filled: Run, words: tuple[str, ...], told: str) -> None:
    """The bad value is named, and what would do."""
    assert told in refused(filled, *words)


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("missing.abc", "missing.abc: there is no such file"),
        ("empty.abc", "empty.abc is empty"),
        ("more.abc", "holds 2 lines: say which one, as in"),
        ("more.abc#3", "holds 2 lines: there is no number 3"),
        ("more.abc#0", "holds 2 lines: there is no number 0"),
        ("more.abc#99999999999999999999", "there is no number 99999999999999999999"),
        ("more.abc#x", "more.abc#x"),
        ("99", "no transcription 99"),
        ("0", "0 is no ID"),
        ("99999999999999999999", "is no ID"),
    ],
)
@pytest.mark.usefixtures("more")
@pytest.mark.no_sql(reason="refused before the database is asked")
def test_files_that_hold_no_figure(filled: Run, tmp_path: Path, name: str, told: str) -> None:
    """Missing, empty, of several lines, or with another number of them; and IDs of none."""
    (tmp_path / "empty.abc").write_text("")
    place = name if name.isdigit() else str(tmp_path / name)
    assert told in refused(filled, "--like", place, "all", "--near")


def test_a_dead_note_in_the_passage_is_told_with_its_place(filled: Run, more: Path) -> None:
    """It has no pitch to look for."""
    told = refused(filled, "--like", f"{more}#2", "all", "--near")
    assert "dead note (bar 1 beat 2)" in told
    assert "choose a passage before or after it" in told


def test_a_figure_of_two_notes_works(filled: Run) -> None:
    """Up a major third: wherever it stands."""
    assert ranked(filled, "--intervals", "+4", "--near", "--threshold", "1", "--tune", "harbour")[0] == (1, 1, 1.0)


def test_long_figures_work_and_longer_ones_are_refused(filled: Run, tmp_path: Path) -> None:
    """500 notes at most: found in a line of 520 with one note altered."""
    scale = ["C,", "E,", "F,", "A,", "B,", "G,", "D,"]
    notes = [scale[(5 * i + i // 7) % 7] for i in range(520)]
    bars = [" ".join(notes[i : i + 4]) for i in range(0, 520, 4)]
    path = tmp_path / "long.abc"
    path.write_text("X:1\nT:Long Pier\nM:4/4\nL:1/4\nK:C clef=bass transpose=-12\n" + " |\n".join(bars) + " |]\n")
    assert filled("add", path).code == 0
    bars[60] = f"^{bars[60]}"
    path.write_text("X:1\nT:Long Pier\nM:4/4\nL:1/4\nK:C clef=bass transpose=-12\n" + " |\n".join(bars) + " |]\n")
    found = ranked(filled, "--like", str(path), "1-125", "--near", "--threshold", "0.99")
    assert found == [(3, 1, 0.9994)]
    assert "too long: at most 500 notes" in refused(filled, "--like", str(path), "1-126", "--near")
    assert "too long: at most 500 notes" in refused(filled, "--notes", "C3 E3 " * 251, "--near")


def test_figures_wider_than_any_line_are_refused_in_words(filled: Run) -> None:
    """1,000 semitones or letter names at most; what is narrower is sought, however absurd."""
    told = refused(filled, "--intervals", "+60 " * 17, "--near")
    assert "spans 1,020 semitones, which no line does: near search takes up to 1,000" in told
    assert "spans 1,015 letter names" in refused(filled, "--steps", "+35 " * 29, "--near")
    assert filled("find", "--intervals", "+60 " * 16, "--near", "--threshold", "0", "--limit", "1").code == 0
