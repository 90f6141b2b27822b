"""The command ``compare``."""

from pathlib import Path

from tests.cli.conftest import Run


def test_compare_tells_differences_with_intervals_and_sentences(filled: Run) -> None:
    """Two lines by ID; every difference has its interval around it, and says which effect size it gives."""
    found = filled("compare", "1", "--with", "2", "--json").json
    assert found["first"]["name"] == "Orlo Quist"
    assert found["plainness"] is None
    assert found["sentences"]
    for row in found["differences"]:
        assert row["low"] <= row["difference"] <= row["high"], row
        assert row["effect_size"] in ("Cohen's h", "Cohen's d")


def test_compare_with_the_corpus_leaves_the_own_lines_out(filled: Run) -> None:
    """Of two lines, the rest of the corpus is the other one; a player's name chooses it too."""
    against = [filled("compare", "1", *words, "--json").json["second"]["notes"] for words in ((), ("--with", "vey"))]
    assert against == [7, 7]
    shown = filled("compare", "1", "--all")
    assert "B = the rest of the corpus: 7 notes in 3 bars" in shown.out
    assert "! B: no chords" in shown.out


def test_compare_refuses_what_it_cannot_do(filled: Run) -> None:
    """No first side, nobody of that name, an unknown ID: exit code 2 and a way out."""
    for words in ((), ("1", "--with", "nobody"), ("1", "--with", "99"), ("1", "2")):
        outcome = filled("compare", *words)
        assert outcome.code == 2, words
        assert outcome.err.startswith("wellworn: ")


def test_compare_counts_shapes_when_asked(filled: Run) -> None:
    """The first study doubles every note of its seventh bar, the second has no such passage."""
    found = filled("compare", "1", "--with", "2", "--shapes", "--json").json["differences"]
    shapes = {row["first"]["key"]: row for row in found if row["first"]["group"] == "shapes"}
    assert len(shapes) == 11
    doubled = shapes["shapes.passages_of_doubled_notes"]
    assert (doubled["first"]["count"], doubled["second"]["count"]) == (8, 0)


ROOTS = """%abc-2.1
X:1
T:Post Road
%%wellworn-player Ada Plain
%%wellworn-instrument Double bass
M:4/4
L:1/4
K:Bb clef=bass transpose=-12
"Bb6"B,, B,, B,, B,, | "F7"F,, F,, F,, F,, | "Bb6"B,, F,, B,, F,, | "F7"F,, A,, C, E, |]
"""


def test_dull_bars_are_named_with_figures_that_could_stand_there(filled: Run, tmp_path: Path) -> None:
    """Roots alone, and roots and fifths; a kept bar of another line over the same function fits one of them."""
    (tmp_path / "roots.abc").write_text(ROOTS)
    assert filled("add", tmp_path / "roots.abc").code == 0
    assert filled("shelf", "add", "walk up", "--like", "1", "2").code == 0
    found = filled("compare", "3", "--json").json
    assert [(place["bar"], place["why"][0]) for place in found["suggestions"]] == [
        (1, "nothing but Bb"),
        (2, "nothing but F"),
        (3, "only roots and fifths"),
    ]
    (figure,) = (f for f in found["suggestions"][1]["alternatives"] if f["figure"] == "walk up")
    assert figure["origin"].startswith("Harbour Steps, 2:1")
    assert [note["spelling"] for note in figure["notes"]] == ["F2", "A1", "C2", "Eb2"]
    assert figure["joint_before"] == {"from": "Bb1", "to": "F2", "semitones": 7}
    shown = filled("compare", "3").out
    assert "- bar 2 (F7: F1 F1 F1 F1): nothing but F, the root on beat 1" in shown
    assert "comes from Bb1 by a perfect fifth, goes on to Bb1 by a perfect fourth" in " ".join(shown.split())
    assert "Dull bars" not in filled("compare", "3", "--no-suggestions").out


def test_the_livelier_line_is_written_to_files(filled: Run, tmp_path: Path) -> None:
    """With the first figure of the first dull bar; where no bar is dull nothing is written."""
    (tmp_path / "roots.abc").write_text(ROOTS)
    assert filled("add", tmp_path / "roots.abc").code == 0
    assert filled("shelf", "add", "walk up", "--like", "1", "2").code == 0
    file = tmp_path / "better.musicxml"
    assert filled("compare", "3", "--musicxml", file).code == 0
    assert filled("add", file).code == 0
    first = filled("compare", "3", "--json").json["suggestions"][0]["alternatives"][0]["notes"]
    added = filled("show", "4", "--json").json["notes"]
    assert [note["spelling"] for note in added[: len(first)]] == [note["spelling"] for note in first]
    assert [note["spelling"] for note in added[-4:]] == ["F1", "A1", "C2", "Eb2"]
    refused = filled("compare", "2", "--musicxml", tmp_path / "none.musicxml")
    assert (refused.code, (tmp_path / "none.musicxml").exists()) == (2, False)
    assert "there is no dull bar" in refused.err
