"""Kept figures and the families that ``recur`` keeps: a live tie, shown and used for variants."""

from pathlib import Path

from tests.cli.conftest import Run

OPENING = ("--like", "1", "1:1-1:4")
"""Bb D Eb E, which stands at the head of bars 1, 5 and, doubled, 7."""


def test_a_figure_is_tied_to_the_family_it_recurs_in(stored: Run) -> None:
    """No family is told before any is kept; then the one whose places the figure stands in, in words and as JSON."""
    assert stored("shelf", "add", "Opening", *OPENING).code == 0
    assert stored("shelf", "show", "Opening", "--json").json["recurs_in"] is None
    families = stored("recur", "--json").json
    tied = stored("shelf", "show", "Opening", "--json").json["recurs_in"]
    family = next(one for one in families if one["id"] == tied["id"])
    assert any(place["transcription"] == 1 and place["bar"] == 1 for place in family["occurrences"])
    assert tied["count"] == family["count"]
    assert tied["shared"] >= 2
    lines = len({place["transcription"] for place in family["occurrences"]})
    told = stored("shelf", "show", "Opening").out
    assert f"recurs in family {tied['id']}: {family['count']} places in {lines} lines" in told
    told = stored("shelf", "add", "Opening again", "--like", "1", "5:1-5:4").err
    assert f"recurs in family {tied['id']}" in told


def test_a_code_as_family_is_a_tie(stored: Run, tmp_path: Path) -> None:
    """A figure without places is tied by the code that it bears; a code that no family bears is told."""
    code = stored("recur", "--json").json[0]["id"]
    assert stored("shelf", "add", "Elsewhere", "--notes", "C2 F#2 G2 Db3", "--family", code).code == 0
    shown = stored("shelf", "show", "Elsewhere", "--json").json
    assert (shown["recurs_in"]["id"], shown["recurs_in"]["shared"]) == (code, 0)
    assert "none of them this figure's own" in stored("shelf", "show", "Elsewhere").out
    assert stored("shelf", "edit", "Elsewhere", "--family", "000000").code == 0
    assert "family 000000 is not among the families kept now" in stored("shelf", "show", "Elsewhere").out


def test_variants_of_a_sheet_come_from_the_family(stored: Run) -> None:
    """Without others on the shelf a sheet takes the forms that the figure's family has in the lines."""
    assert stored("shelf", "add", "Opening", *OPENING).code == 0
    refused = stored("practice", "sheet", "Opening", "--variants", "1")
    assert refused.code == 2
    assert "wellworn recur" in refused.err
    assert stored("recur").code == 0
    plain = stored("practice", "sheet", "Opening", "--order", "C").out
    varied = stored("practice", "sheet", "Opening", "--order", "C", "--variants", "1")
    assert varied.code == 0, varied.err
    assert len(varied.out.splitlines()) > len(plain.splitlines())
    assert plain.splitlines()[1].split()[1:] == varied.out.splitlines()[1].split()[1:], "the figure itself comes first"
