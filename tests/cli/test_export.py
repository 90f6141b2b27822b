"""``export``: files for other programs."""

from pathlib import Path

import pytest

from tests.cli.conftest import Run


def test_an_exported_line_is_added_again_with_the_same_bars(filled: Run, tmp_path: Path) -> None:
    """What export writes, add reads: the same notes and chords."""
    path = tmp_path / "line.musicxml"
    assert filled("export", "1", "--musicxml", path).err == f"{path}: 8 bars, 33 notes\n"
    before = filled("show", "1", "--json").json
    assert filled("add", path, "--force").code in (0, 2)
    assert filled("remove", "1", "2").code == 0
    assert filled("add", path).code == 0
    after = filled("show", "1", "--json").json
    assert [(n["bar"], n["beat"], n["spelling"]) for n in after["notes"]] == [
        (n["bar"], n["beat"], n["spelling"]) for n in before["notes"]
    ]


def test_a_file_that_is_there_is_kept(filled: Run, tmp_path: Path) -> None:
    """Exit code 2 and words; --force replaces it."""
    path = tmp_path / "line.musicxml"
    path.write_text("mine")
    outcome = filled("export", "1", "--musicxml", path)
    assert (outcome.code, outcome.err) == (2, f"wellworn: {path} is there already: --force replaces it\n")
    assert path.read_text() == "mine"
    assert filled("export", "1", "--musicxml", path, "--force").code == 0
    assert path.read_text().startswith("<?xml")
    assert [p.name for p in tmp_path.iterdir() if p.name.endswith(".part")] == []


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("nowhere/line.musicxml", "there is no folder"),
        (".", "is no file"),
        ("x" * 300, "cannot be a file name here"),
        ("/proc/line.musicxml", "cannot be written"),
    ],
)
def test_a_place_that_cannot_be_written_is_told(filled: Run, tmp_path: Path, name: str, words: str) -> None:
    """A missing folder, a folder in place of a file, an impossible name, exit code 2; a folder that refuses: 1."""
    outcome = filled("export", "1", "--musicxml", tmp_path / name)
    assert outcome.code == (1 if "cannot be written" in words else 2)
    assert words in outcome.err
    assert "Traceback" not in outcome.err


def test_export_wants_to_know_what_to_write(filled: Run) -> None:
    """Without a format nothing is guessed."""
    outcome = filled("export", "1")
    assert (outcome.code, "say what to write: --musicxml" in outcome.err) == (2, True)
