"""``show`` with --svg, --pdf and --png."""

import re
from pathlib import Path

import pytest

from tests.cli.conftest import Run

pytestmark = pytest.mark.no_sql(reason="what is drawn comes from a line or figure in memory")


def test_a_passage_becomes_pictures_of_three_kinds(filled: Run, tmp_path: Path) -> None:
    """SVG, PNG and PDF in one go; what is marked and what stands below is in the SVG."""
    files = {kind: tmp_path / f"bars.{kind}" for kind in ("svg", "png", "pdf")}
    words = [word for kind, path in files.items() for word in (f"--{kind}", str(path))]
    outcome = filled("show", "1", *words, "--bars", "5-6", "--mark", "5", "--below", "degrees")
    assert outcome.code == 0, outcome.err
    assert outcome.err == "".join(f"{path}: Harbour Steps\n" for path in files.values())
    svg = files["svg"].read_text(encoding="utf-8")
    assert len(re.findall('class="note"', svg)) == 8
    assert 'class="markLabel">A<' in svg
    assert re.findall(r'class="barNumber"><text[^>]*>(\d+)<', svg) == ["5"]
    assert files["png"].read_bytes().startswith(b"\x89PNG")
    assert files["pdf"].read_bytes().startswith(b"%PDF")


def test_marks_show_every_place_where_the_passage_comes_back(filled: Run, tmp_path: Path) -> None:
    """Bar 5 is bar 1 an octave higher and further spread; a passage that comes back in bar 1 and 5 is bracketed twice.

    B♭ D E♭ E stands in bar 1, and in bar 5 an octave higher: the same intervals, two brackets.
    """
    path = tmp_path / "line.svg"
    assert filled("show", "1", "--svg", path, "--mark", "1").code == 0
    assert path.read_text(encoding="utf-8").count('class="bracketSpan"') == 2


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--bars", "5-6"), "are for notation"),
        (("--families",), "are for notation"),
        (("--svg", "x.svg", "--families", "--mark", "1"), "choose one"),
        (("--svg", "x.svg", "--bars", "70"), "there is no bar 70"),
        (("--svg", "x.svg", "--bars", "1:2-2"), "whole bars"),
        (("--svg", "x.svg", "--below", "words"), "--below"),
        (("--svg", "x.svg", "--png", "x.svg"), "one file"),
        (("--svg", "x.svg", "--paper", "A0"), "--paper"),
    ],
)
def test_what_cannot_be_engraved_is_told(
    filled: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], told: str
) -> None:
    """Exit code 2, words, and no file."""
    monkeypatch.chdir(tmp_path)
    outcome = filled("show", "1", *words)
    assert outcome.code == 2
    assert told in outcome.err
    assert not (tmp_path / "x.svg").exists()


def test_nothing_is_written_when_one_of_several_files_is_there(filled: Run, tmp_path: Path) -> None:
    """All or none."""
    taken = tmp_path / "line.png"
    taken.write_bytes(b"mine")
    outcome = filled("show", "1", "--svg", tmp_path / "line.svg", "--png", taken)
    assert outcome.code == 2
    assert "--force" in outcome.err
    assert not (tmp_path / "line.svg").exists()
    assert taken.read_bytes() == b"mine"


def test_what_is_found_is_put_on_paper(filled: Run, tmp_path: Path) -> None:
    """A PDF of the places; nothing found and no file is an error of the question."""
    path = tmp_path / "places.pdf"
    outcome = filled("find", "--like", "1", "1", "--pdf", path)
    assert outcome.code == 0, outcome.err
    assert outcome.err.startswith(f"{path}: 2 places on 1 page\n")
    assert path.read_bytes().startswith(b"%PDF")
    assert filled("find", "--like", "1", "1", "--pdf", path).code == 2
    nothing = filled("find", "--intervals", "+11 +11 +11", "--pdf", tmp_path / "none.pdf")
    assert (nothing.code, (tmp_path / "none.pdf").exists()) == (2, False)
