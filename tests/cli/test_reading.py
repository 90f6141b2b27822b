"""The command ``reading``."""

from pathlib import Path

import pytest

from tests.cli.conftest import Run

pytestmark = pytest.mark.no_sql(reason="a line is told in memory")

SEED = Path(__file__).parents[2] / "seed_data" / "walking_lines.abc"


def test_reading_tells_bars_and_draws_implied_chords_under_the_chart(run: Run) -> None:
    """Anselm's chorus with the G minor triad over F7: under the chart of bar 31, in the account, and as JSON."""
    run("add", SEED)
    identity = next(
        row["transcription"]
        for row in run("list", "--tune", "blues", "--json").json
        if row["player"].startswith("Anselm")
    )
    shown = run("reading", identity, "--chorus", "3").out
    assert "G minor triad over F7: 9 11 13." in shown
    lines = shown.splitlines()
    row = next(i for i, text in enumerate(lines) if text.startswith("    29 |"))
    assert lines[row + 1].index("Gm--") == lines[row].index("F7")
    fields = run("reading", identity, "--chorus", "3", "--json").json
    found = next(i for i in fields["implied"] if i["bar"] == 31)
    assert (found["relation"], found["implied"], found["rootless"]) == ("superimposes", "Gm", False)
    assert all(remark["why"] for remark in fields["remarks"])
    assert "as likely under Gm)" in run("reading", identity, "--chorus", "3", "--why").out


def test_reading_says_what_it_cannot_say(filled: Run) -> None:
    """A line without chords; a chorus that is not there."""
    assert "! no chords: nothing is said about roots" in filled("reading", "2").out
    outcome = filled("reading", "1", "--chorus", "9")
    assert outcome.code == 2
    assert "there is no chorus 9" in outcome.err
