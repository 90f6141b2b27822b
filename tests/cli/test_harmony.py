"""``harmony``, ``chart``, ``add --chart``, and searching by chord function at the command line."""

import os
from pathlib import Path

import pytest

from tests.cli.conftest import Run, stored_lines

TURN = """X:1
T:Tin Roof
M:4/4
L:1/4
K:Bb
"Bb6"B, D "G7"G =B, | "Cm7"C E "F7"F A, | "Dm7"D F "G7"G =B | "Cm7"c G "F7"A F |
"Bb6"B,4 |]
"""
BARE = "X:1\nT:Bare\nM:4/4\nL:1/4\nK:Bb\nB, D G =B, | C E F A, | D F G =B | c G A F |\n"


@pytest.fixture
def turn(run: Run, tmp_path: Path) -> Run:
    """A run whose database holds a charted line of five bars, as 1."""
    path = tmp_path / "turn.abc"
    path.write_text(TURN)
    assert run("add", path).code == 0
    return run


def test_harmony_json_has_spans_with_numerals_and_local_keys(turn: Run) -> None:
    """Bar, beat, symbol, numeral, key and level for every chord, at every level."""
    shown = turn("harmony", "1", "--json").json
    written = [span for span in shown["spans"] if span["level"] == 0]
    assert [(s["bar"], s["beat"], s["symbol"], s["numeral"]) for s in written[:4]] == [
        (1, 1, "Bb6", "I"),
        (1, 3, "G7", "V/ii"),
        (2, 1, "Cm7", "ii"),
        (2, 3, "F7", "V"),
    ]
    assert written[0]["key"] == {"tonic": "Bb", "mode": "major"}
    assert {span["level"] for span in shown["spans"]} == {0, 1, 2, 3}
    names = [found["name"] for found in shown["progressions"]]
    assert "I-VI-ii-V turnaround" in names
    assert "iii-VI-ii-V turnaround" in names
    one = turn("harmony", "1", "--level", "1", "--json").json["spans"]
    assert [span["numeral"] for span in one] == ["I", "V/ii", "V", "iii", "V/ii", "V", "I"]


def test_harmony_for_people(turn: Run) -> None:
    """A row a chord, then key and progressions."""
    out = turn("harmony", "1").out
    assert "V/ii" in out
    assert "Home key: Bb major" in out
    assert "iii-VI-ii-V turnaround" in out
    assert turn("harmony", "9").code == 2
    assert turn("harmony", "1", "--level", "4").code == 2
    assert "no chorus 99" in turn("harmony", "1", "--chorus", "99").err


def test_a_line_without_chords_says_so(run: Run, tmp_path: Path) -> None:
    """Harmony and chart have nothing to tell, in words."""
    path = tmp_path / "bare.abc"
    path.write_text(BARE)
    run("add", path)
    assert "no chord symbols" in run("harmony", "1").err
    assert run("chart", "1").code == 2
    assert run("harmony", "1", "--json").json["spans"] == []
    assert run("find", "--over", "ii V", "--json").json == []
    assert run("find", "--roles", "1 3", "--json").json == []


def test_a_chart_goes_out_and_comes_back(turn: Run, tmp_path: Path) -> None:
    """What chart prints, add --chart lays over a bare line: the same symbols at the same places."""
    chart = tmp_path / "changes.txt"
    chart.write_text(turn("chart", "1").out)
    bare = tmp_path / "bare.abc"
    bare.write_text(BARE.replace("F |\n", "F | B,4 |\n"))
    assert turn("add", bare, "--chart", chart).code == 0
    chords = [turn("show", str(i), "--json").json["chords"] for i in (1, 2)]
    assert chords[0] == chords[1]
    assert turn("find", "--over", "iii VI ii V I", "--json").json[1]["transcription"] == 2


def test_a_chart_stays_with_its_line_when_the_file_is_replaced(run: Run, tmp_path: Path) -> None:
    """Added again without --chart the file is the same; its new state has the chart; another chart is a change."""
    bare, chart, other = tmp_path / "bare.abc", tmp_path / "changes.txt", tmp_path / "other.txt"
    bare.write_text(BARE)
    chart.write_text("| Bb6 G7 | Cm7 F7 | Dm7 G7 | Cm7 F7 |\n")
    other.write_text("| Bb6 | Cm7 F7 | Dm7 G7 | Cm7 F7 |\n")
    assert run("add", bare, "--chart", chart).code == 0
    assert "skipped" in run("add", bare).err
    bare.write_text(BARE.replace("c G A F", "c A G F"))
    assert run("add", bare, "--replace").code == 0
    assert len(run("show", "1", "--json").json["chords"]) == 8
    assert run("add", bare, "--chart", other).code == 2
    assert run("add", bare, "--chart", other, "--replace").code == 0
    assert len(run("show", "1", "--json").json["chords"]) == 7


def test_a_cadence_is_found_on_the_degree_it_aims_at(run: Run, tmp_path: Path) -> None:
    """Gm7 C7 Fmaj7 in C is a ii-V-I to IV: ii V I finds it, and at level 1 the question loses its ii like the chart."""
    path = tmp_path / "four.abc"
    bars = " | ".join(f'"{chord}"C E G E' for chord in ["Cmaj7", "Gm7", "C7", "Fmaj7", "Dm7", "G7", "Cmaj7", "Cmaj7"])
    path.write_text(f"X:1\nT:Four\nM:4/4\nL:1/4\nK:C\n{bars} |]\n")
    run("add", path)
    assert [hit["bar"] for hit in run("find", "--over", "ii V I", "--json").json] == [2, 5]
    assert [hit["bar"] for hit in run("find", "--over", "ii V I", "--level", "1", "--json").json] == [2, 5]
    assert run("find", "--over", "ii V I", "--level", "3").code == 2


def test_show_tells_numeral_role_and_movement_of_every_note(turn: Run) -> None:
    """Plain is a chord tone, (scale tone), [outside], > leads into the next strong note."""
    out = turn("show", "1").out
    assert "I V/ii" in out
    assert "1 3 1 3" in out
    assert "leads into the next strong note" in out


def test_an_edited_key_or_form_is_checked_again(turn: Run) -> None:
    """A key that the chords contradict and a form that does not fit are findings; a good one takes them away."""
    turn("edit", "1", "--key", "E major", "--form", "4")
    kinds = {finding["kind"] for finding in turn("show", "1", "--json").json["findings"]}
    assert {"chord", "form"} <= kinds
    turn("edit", "1", "--key", "Bb", "--form", "5")
    assert turn("show", "1", "--json").json["findings"] == []


def test_a_modes_own_notes_belong_to_its_scale(run: Run, tmp_path: Path) -> None:
    """B is the thirteenth of Dm7 in D dorian, and no outside note."""
    path = tmp_path / "dorian.abc"
    path.write_text('X:1\nT:Dorian\nM:4/4\nL:1/4\nK:Ddor\n"Dm7"D B A G | "Dm7"D F A D |]\n')
    run("add", path)
    second = run("show", "1", "--json").json["notes"][1]
    assert (second["chord_degree"], second["role"], second["key"]) == ("13", "scale tone", "D dorian")


def test_charts_that_cannot_be_read_point_at_the_column(run: Run, tmp_path: Path) -> None:
    """File, line and column; nothing is added; missing and binary charts too."""
    bare, chart = tmp_path / "bare.abc", tmp_path / "changes.txt"
    bare.write_text(BARE)
    chart.write_text("| Bb6 G7 |\n| Cm7 H7 |\n")
    done = run("add", bare, "--chart", chart)
    assert (done.code, "changes.txt" in done.err) == (2, True)
    assert "line 2" in done.err
    assert "column 7" in done.err
    chart.write_bytes(b"\xff\xfe\x00|")
    assert run("add", bare, "--chart", chart).code == 2
    os.mkfifo(tmp_path / "pipe.txt")
    for place in (tmp_path / "none.txt", tmp_path, tmp_path / "pipe.txt", "/dev/zero"):
        done = run("add", bare, "--chart", place)
        assert (done.code, "is no file" in done.err) == (2, True)
    assert stored_lines(run) == []


def test_a_chart_of_another_length_is_a_finding_and_loses_nothing(run: Run, tmp_path: Path) -> None:
    """Three bars of chart over four of line: added, with a remark."""
    bare, chart = tmp_path / "bare.abc", tmp_path / "changes.txt"
    bare.write_text(BARE)
    chart.write_text("| Bb6 | Cm7 | F7 |\n")
    done = run("add", bare, "--chart", chart)
    assert done.code == 0
    assert "[chord]" in done.err
    assert len(run("show", "1", "--json").json["notes"]) == 16


def test_unreadable_symbols_are_kept_and_reported_with_bar_and_beat(run: Run, tmp_path: Path) -> None:
    """They count as no chord and stay in the file's words."""
    path = tmp_path / "odd.abc"
    path.write_text(TURN.replace('"F7"F A,', '"F7alt9q"F A,'))
    done = run("add", path)
    assert (done.code, "bar 2 beat 3" in done.err, "'F7alt9q'" in done.err) == (0, True, True)
    shown = run("show", "1", "--json").json
    assert "F7alt9q" in [chord["symbol"] for chord in shown["chords"]]
    assert shown["notes"][6]["role"] is None


def test_a_key_declared_wrongly_is_a_finding(run: Run, tmp_path: Path) -> None:
    """The chart decides, and the contradiction is told."""
    path = tmp_path / "wrong.abc"
    path.write_text(TURN.replace("K:Bb", "K:E").replace("=B", "B"))
    assert "the key is given as E major" in run("add", path).err


def test_search_by_function_role_degree_and_context(turn: Run) -> None:
    """Over a progression, by roles, by degrees, landing on the root of I."""
    over = turn("find", "--over", "ii V", "--json").json
    assert [(hit["bar"], hit["beat"], hit["notes"]) for hit in over] == [
        (2, 1, ["C4", "Eb4", "F4", "A3"]),
        (4, 1, ["C5", "G4", "A4", "F4"]),
    ]
    assert [hit["bar"] for hit in turn("find", "--over", "ii V I", "--lands-on", "1", "--json").json] == [4]
    assert turn("find", "--over", "ii V I", "--lands-on", "5", "--json").json == []
    assert [hit["bar"] for hit in turn("find", "--roles", "1 b3 1 3", "--json").json] == [2, 3]
    assert [hit["bar"] for hit in turn("find", "--degrees", "2 4 5 7", "--json").json] == [2]
    figure = ("--notes", "C4 Eb4 F4", "--json")
    assert len(turn("find", *figure, "--first-over", "ii").json) == 1
    assert turn("find", *figure, "--first-over", "V").json == []
    assert len(turn("find", *figure, "--over", "ii V|subV").json) == 1
    assert len(turn("find", *figure, "--starts-on", "1", "--beat", "1").json) == 2
    assert turn("find", *figure, "--form-bar", "4").json == []
    assert len(turn("find", "--over", "V I", "--level", "2", "--limit", "1").out.splitlines()) == 3


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--over", "ii Q"), "unknown numeral 'Q'"),
        (("--over", "*"), "names no chord"),
        (("--roles", "1 12"), "unknown role '12'"),
        (("--degrees", "x"), "unknown degree"),
        (("--notes", "C D", "--first-over", "ii V"), "not one function"),
        (("--notes", "C D", "--lands-on", "approach"), "asks what the note does"),
        (("--over", "ii V", "--ignore", "octaves"), "need a figure"),
        (("--over", "ii V", "--first-over", "ii"), "need a figure"),
        (("--roles", "1 3", "--ignore", "mode"), "makes no sense"),
        (("--roles", "1 3", "--rhythm", "same"), "needs a figure that has rhythm"),
        (("--roles", "1 3", "--degrees", "1 3"), "--roles and --degrees are given"),
        (("--over", "ii V", "--level", "7"), "7"),
        (("--notes", "C D", "--beat", "0"), "0"),
        (("--notes", "C D", "--beat", "nan"), "must be a number"),
    ],
)
def test_bad_questions_about_harmony_are_answered_in_words(turn: Run, words: tuple[str, ...], told: str) -> None:
    """Exit 2, the bad word named, nothing on standard output."""
    done = turn("find", *words)
    assert (done.code, done.out) == (2, "")
    assert told in done.err


def test_the_map_shows_progressions_and_numerals(turn: Run) -> None:
    """Named progressions under the chart when no figure is asked for; numerals of a level in place of symbols."""
    out = turn("map", "1").out
    assert "(I-VI-ii-V turn" in out
    assert "(I-VI" not in turn("map", "1", "--bars", "1").out
    assert "(I-VI" in turn("map", "1", "--bars", "1", "--progressions").out
    assert "V/ii" in turn("map", "1", "--level", "0").out
    assert all(len(line) <= 80 for line in out.splitlines())


def test_a_form_is_recognised_from_the_chords_when_nobody_said(run: Run, tmp_path: Path) -> None:
    """Two choruses of a twelve-bar blues without marks: numbered, and said."""
    chorus = ["F7", "Bb7", "F7", "F7", "Bb7", "Bb7", "F7", "D7", "Gm7", "C7", "F7", "C7"]
    bars = " | ".join(f'"{chord}"F A c A' for chord in chorus * 2)
    path = tmp_path / "blues.abc"
    path.write_text(f"X:1\nT:Coal\nM:4/4\nL:1/4\nK:F\n{bars} |]\n")
    assert "recognised from the chords" in run("add", path).err
    shown = run("show", "1", "--json").json
    assert [shown["notes"][i]["chorus"] for i in (0, 47, 48)] == [1, 1, 2]
    assert shown["form"] == "A12"
    named = run("harmony", "1", "--json").json["progressions"]
    assert [found["bar"] for found in named if found["name"] == "12-bar blues" and found["level"] == 0] == [1, 13]
