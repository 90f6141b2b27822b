"""``shapes`` at the command line."""

from pathlib import Path

import pytest

from tests.cli.conftest import Run

LINE = """X:1
T:Slate Roof
%%wellworn-form A2 B2
M:4/4
L:1/4
K:F
"C7"D F A G | "F6"F, A, C F | "Gm7"G B _A ^F | "C7"G ^F =F E |
"""


@pytest.fixture
def slate(run: Run, tmp_path: Path) -> Run:
    """A run whose database holds a line of four bars, as 1."""
    path = tmp_path / "slate.abc"
    path.write_text(LINE)
    assert run("add", path).code == 0
    return run


def test_shapes_are_told_with_bar_and_beat(slate: Run) -> None:
    """A row a shape, and how many there are."""
    out = slate("shapes", "1").out
    assert [line.split()[:4] for line in out.splitlines()[1:3]] == [
        ["1", "1", "arpeggio", "arpeggio"],
        ["2", "1", "arpeggio", "arpeggio"],
    ]
    assert "arpeggio of Dm over C7: 9 11 13" in out
    assert "arpeggio of F6: 1 3 5 1" in out
    assert "chromatic run down to E" in out
    assert out.splitlines()[-1] == "4 shapes"


def test_shapes_as_json(slate: Run) -> None:
    """One array; places and notes are named as in find --json."""
    shown = slate("shapes", "1", "--json").json
    assert [shape["kind"] for shape in shown] == ["arpeggio", "arpeggio", "enclosure", "chromatic run"]
    dm = shown[0]
    assert (dm["bar"], dm["beat"], dm["first"], dm["last"], dm["section"]) == (1, 1, 0, 2, "A")
    assert (dm["notes"], dm["chords"]) == (["D4", "F4", "A4"], ["C7"])
    assert dm["details"]["degrees"] == ["9", "11", "13"]
    assert slate("shapes", "1", "--kind", "pedal", "--json").json == []


def test_shapes_are_narrowed_by_kind_section_and_chorus(slate: Run) -> None:
    """Several kinds, beginnings of names, and sections in either case."""
    assert len(slate("shapes", "1", "--kind", "arp,chromatic", "--json").json) == 3
    assert [s["bar"] for s in slate("shapes", "1", "--section", "b", "--json").json] == [3, 4]
    assert len(slate("shapes", "1", "--chorus", "1", "--json").json) == 4
    limited = slate("shapes", "1", "--limit", "1")
    assert "4 shapes, 1 shown" in limited.err
    assert slate("shapes", "1", "--kind", "pedal").out == "0 shapes\n"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--kind", "lick"), "kind 'lick' is unknown"),
        (("--kind", ""), "kind '' is unknown"),
        (("--kind", "c"), "kind 'c' is not clear"),
        (("--section", "Z"), "no section 'Z': it has A, B"),
        (("--chorus", "7"), "no chorus 7"),
    ],
)
def test_what_cannot_be_asked_is_said(slate: Run, words: tuple[str, ...], message: str) -> None:
    """Exit code 2 and a sentence, no traceback."""
    done = slate("shapes", "1", *words)
    assert done.code == 2
    assert message in done.err
    assert slate("shapes", "99").code == 2
