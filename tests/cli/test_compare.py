"""The command ``compare``."""

import pytest

from tests.cli.conftest import Run

pytestmark = pytest.mark.no_sql(reason="lines are compared in memory; there is db/test_profile_lines")


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
