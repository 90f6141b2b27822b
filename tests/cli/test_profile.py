"""The command ``profile``."""

import csv
import io

from tests.cli.conftest import Run


def test_profile_tells_every_figure_with_its_n_and_interval(filled: Run) -> None:
    """The first study has 33 notes over chords, nine of them roots (counted by hand)."""
    found = filled("profile", "1", "--json").json
    roots = next(row for row in found["measures"] if row["key"] == "roots.all")
    assert (roots["count"], roots["n"], roots["method"]) == (9, 33, "Wilson")
    assert found["range"]["n"] == found["notes"] == 33
    for row in found["measures"]:
        if row["n"]:
            assert row["low"] <= row["value"] <= row["high"], row


def test_profile_prints_groups_and_remarks(filled: Run) -> None:
    """The second study has no chords: it says so, and prints what is left."""
    shown = filled("profile", "2")
    assert "no chords: nothing is said about roots" in shown.out
    assert "intervals\n" in shown.out
    assert "roots\n" not in shown.out
    only = filled("profile", "--only", "rhythm")
    assert "2 transcriptions" in only.out
    assert "intervals\n" not in only.out


def test_profile_writes_csv(filled: Run) -> None:
    """One row a figure, the same figures as JSON."""
    rows = list(csv.DictReader(io.StringIO(filled("profile", "1", "--csv").out)))
    fields = filled("profile", "1", "--json").json["measures"]
    assert [row["key"] for row in rows] == [row["key"] for row in fields]


def test_profile_refuses_what_is_not_there(filled: Run) -> None:
    """Exit code 2 and a way out."""
    for words in (("99",), ("--player", "nobody"), ("--section", "Z"), ("--only", "colours")):
        outcome = filled("profile", *words)
        assert outcome.code == 2
        assert outcome.err.startswith("wellworn: ")
    assert "the groups are roots" in filled("profile", "--only", "colours").err
