"""``undo`` at the command line: shown, asked about, done."""

import pytest

from tests.cli.conftest import Run


def test_undo_shows_what_it_takes_back_and_asks(filled: Run) -> None:
    """Without an answer nothing is undone; --yes undoes, and again goes further back."""
    assert filled("edit", "1", "--player", "Somebody Else").code == 0
    assert filled("remove", "2").code == 0
    asked = filled("undo")
    assert asked.code == 2
    assert "remove" in asked.out
    assert "2 Paper Boats" in asked.out
    assert "1 transcription brought back" in asked.out
    assert "--yes" in asked.err
    assert [line["transcription"] for line in filled("list", "--json").json] == [1]
    done = filled("undo", "--yes")
    assert done.code == 0
    assert "undone: 1 transcription brought back" in done.err
    assert [line["player"] for line in filled("list", "--json").json] == ["Somebody Else", "Tamsin Vey"]
    assert filled("undo", "--yes").code == 0
    assert [line["player"] for line in filled("list", "--json").json] == ["Orlo Quist", "Tamsin Vey"]
    assert "2 transcriptions taken out" in filled("undo", "--yes").err
    assert filled("list", "--json").json == []
    assert "nothing to undo" in filled("undo", "--yes").err
    assert filled("doctor").code == 0


def test_what_undo_brings_back_is_found_again(filled: Run) -> None:
    """A search answers as before the removal, and the file is known as there."""
    before = filled("find", "--notes", "Bb1 D2 Eb2 E2", "--json").json
    assert len(before) == 2
    filled("remove", "1")
    assert filled("find", "--notes", "Bb1 D2 Eb2 E2", "--json").json == []
    filled("undo", "--yes")
    assert filled("find", "--notes", "Bb1 D2 Eb2 E2", "--json").json == before


def test_shelf_and_practice_are_undone(filled: Run) -> None:
    """Each command of the shelf and the practice log is a step under its own name."""
    states = []
    commands = [
        ("shelf", "add", "Climb", "--like", "1", "1:1-2:1"),
        ("shelf", "tag", "Climb", "warm-up"),
        ("practice", "log", "Climb", "--bpm", "96", "--on", "2024-03-09"),
        ("shelf", "edit", "Climb", "--rating", "4"),
        ("shelf", "add", "Typed", "--notes", "C3 D3 E3"),
        ("shelf", "merge", "Climb", "Typed"),
        ("shelf", "remove", "Climb", "--force"),
    ]
    for words in commands:
        states.append(filled("shelf", "list", "--json").json)
        assert filled(*words).code == 0
    steps = filled("undo", "--list", "--json").json
    assert [step["command"] for step in steps] == [" ".join(words[:2]) for words in reversed(commands)] + ["add"]
    assert "Climb" in filled("undo", "--list").out
    for state in reversed(states):
        assert filled("undo", "--yes").code == 0
        assert filled("shelf", "list", "--json").json == state


@pytest.mark.sqlite_only
@pytest.mark.parametrize("options", [(), ("--json",)])
def test_undo_without_a_database_says_so(run: Run, options: tuple[str, ...]) -> None:
    """No database at all: the usual words, exit code 2."""
    outcome = run("undo", *options)
    assert outcome.code == 2
    assert "wellworn add" in outcome.err


def test_json_tells_what_was_undone(filled: Run) -> None:
    """One object with command, changes and effect."""
    filled("remove", "1")
    told = filled("undo", "--yes", "--json").json
    assert told["command"] == "remove"
    assert told["effect"]["lines_back"] == 1
    assert told["undone"] is True
