"""The chorus map: 80 columns, sections, marks, overflow, repeats."""

from pathlib import Path

import pytest

from tests.cli.conftest import Run

pytestmark = pytest.mark.no_sql(reason="what is drawn comes from a line or figure in memory")


def tune(body: str, key: str = "C", form: str = "", meter: str = "4/4") -> str:
    """An ABC tune around a body."""
    marks = f"%%wellworn-form {form}\n" if form else ""
    title = "A Study Whose Title Goes On And On, Much Longer Than Anybody Needs It To Be"
    return f"X:1\nT:{title}\n{marks}M:{meter}\nL:1/4\nK:{key}\n{body}\n"


@pytest.fixture
def drawn(run: Run, tmp_path: Path) -> Run:
    """Adds a tune given as text and runs map on it; every line fits in 80 columns."""

    def draw(*words: str, text: str) -> object:
        path = tmp_path / "map.abc"
        path.write_text(text)
        run("add", path, "--replace")
        done = run("map", "1", *words)
        assert done.code == 0, done.err
        assert all(len(line) <= 80 for line in done.out.splitlines()), done.out
        return done

    return draw  # type: ignore[return-value]


def test_sections_keep_their_names_in_three_digit_bars_and_second_passes(drawn: Run) -> None:
    """[A] beside bar 105 and beside a second pass; a long name stands above its row."""
    bars = " | ".join(["CDEF"] * 120)
    out = drawn(text=tune(bars, form="A8 B8")).out
    assert "[A]113 |" in out
    again = drawn(text=tune("P:A\n|:CDEF|GABc:|\nP:Interlude\nCDEF|")).out
    assert "[A]1~2 |" in again
    assert "[Interlude]" in again


def test_symbols_that_do_not_fit_are_cut_and_written_out_below(drawn: Run) -> None:
    """Nothing is swallowed."""
    out = drawn(text=tune('"C7(b9,#9,#11)"C "Am7b5"D "D7alt"E "Gm(maj7)"F | CDEF |')).out
    assert "…" in out
    assert "bar 1: C7(b9,#9,#11)  Am7b5  D7alt  Gm(maj7)" in out


def test_marks_begin_and_end_at_their_notes(drawn: Run) -> None:
    """A two-beat figure at beat 3 of bar 1, drawn under columns 5 to 7 of its cell."""
    out = drawn("--notes", "E4 F4", "--per-row", "8", text=tune("CDEF | GABc | CDEF |")).out.splitlines()
    row = next(i for i, line in enumerate(out) if line.startswith("     1 |"))
    # The cell of bar 1 begins at column 8; beat 3 of 4 is half of its eight columns on.
    assert out[row + 1] == " " * 12 + "A--      A--      A--"


def test_a_mark_that_goes_on_in_the_next_row_repeats_its_letter(drawn: Run) -> None:
    """The row after shows which figure comes from the row before."""
    out = drawn("--bars", "8:3-9:2", text=tune(" | ".join(["CDEF", "GABc"] * 5))).out
    assert "\n        -A" in out


def test_overlapping_figures_get_lanes_and_a_legend_with_passes(drawn: Run) -> None:
    """Two letters in two rows; a place in a second pass is told as 1~2."""
    out = drawn("--bars", "1", "--bars", "1:2-2:1", text=tune("|:CDEF|Gccc:|")).out
    assert "A = C4 D4 E4 F4: 2 places" in out
    assert "bar 1~2 beat 1 at pitch" in out
    lanes = [line for line in out.splitlines() if line.strip().startswith(("A-", "B-"))]
    assert len(lanes) >= 2


def test_the_legend_counts_the_choruses_that_are_drawn(drawn: Run) -> None:
    """Places elsewhere are told as a number."""
    out = drawn("--notes", "C4 D4 F4", "--chorus", "2", text=tune("CDFA | GGGG | CDFA | GGGG |", form="A2")).out
    assert "1 place, 1 in other choruses" in out
    assert "Chorus 1" not in out


def test_other_meters_and_pickups_are_drawn(drawn: Run) -> None:
    """Three beats to a bar, a pickup in a row of its own with the section named at bar 1."""
    out = drawn(text=tune("P:A\nG | CDE | FGA | Bcd |", meter="3/4")).out
    assert "     0 |" in out
    assert "[A]  1 |" in out


@pytest.mark.parametrize("words", [("--per-row", "5"), ("--chorus", "9"), ("--level", "9"), ("--bars", "99")])
def test_maps_that_cannot_be_drawn_are_refused(filled: Run, words: tuple[str, str]) -> None:
    """Exit 2 and a word about why."""
    done = filled("map", "1", *words)
    assert (done.code, done.out) == (2, "")


def test_more_figures_than_letters_are_refused(filled: Run) -> None:
    """Twenty-six is the limit."""
    words = [word for _ in range(27) for word in ("--notes", "C D")]
    assert "too many" in filled("map", "1", *words).err
