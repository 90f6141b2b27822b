"""``practice sheet``: from the shelf or as typed, into files that notation programs and players read."""

import io
from pathlib import Path
from xml.etree import ElementTree

import pytest

from tests.cli.conftest import STUDY, Run
from tests.corpus.write.test_musicxml import assert_valid

pytestmark = pytest.mark.no_sql(reason="what is drawn comes from a line or figure in memory")


@pytest.fixture
def shelved(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """A run with a stored line, three figures on the shelf (two of one family), in an empty folder."""
    (tmp_path / "study.abc").write_text(STUDY, encoding="utf-8")
    assert run("add", str(tmp_path / "study.abc")).code == 0
    assert run("shelf", "add", "Walk", "--like", "1", "1-2", "--family", "walks").code == 0
    assert run("shelf", "add", "Walk back", "--like", "1", "2-3", "--family", "walks").code == 0
    assert run("shelf", "add", "Wide", "--notes", "C1 C6").code == 0
    monkeypatch.chdir(tmp_path)
    return run


def test_without_a_file_the_sheet_is_listed(shelved: Run) -> None:
    """Twelve keys, chords and notes; the caution beside it."""
    done = shelved("practice", "sheet", "walk")
    assert done.code == 0
    keys = [line.split()[1] for line in done.out.splitlines()[1::2]]
    assert keys == ["C", "F", "B♭", "E♭", "A♭", "D♭", "G♭", "B", "E", "A", "D", "G"]
    assert "B♭   Bb6" in done.out
    for word in ("warm up", "rest", "stop at pain", "hearing", "teacher or clinician"):
        assert word in done.err


def test_all_formats_are_written_at_once(shelved: Run, tmp_path: Path) -> None:
    """MusicXML with caution and ladder as credits, MIDI once a rung, SVG, PDF."""
    import mido

    names = ("s.musicxml", "s.mid", "s.svg", "s.pdf")
    done = shelved(
        "practice", "sheet", "Walk", "--order", "C Eb", "--ladder", "80 20 120",
        "--musicxml", names[0], "--midi", names[1], "--svg", names[2], "--pdf", names[3], "--metronome", "--chords",
    )  # fmt: skip
    assert (done.code, done.out) == (0, ""), done.err
    root = ElementTree.parse(tmp_path / names[0]).getroot()
    words = " ".join(element.text or "" for element in root.iter("credit-words"))
    assert "Walk: C Eb" in words
    assert "80 · 100 · 120" in words
    assert "stop at pain" in words
    assert [e.text for e in root.iter("text")][:8] == ["1", "3", "4", "♯4", "5", "7", "2", "4"]
    file = mido.MidiFile(file=io.BytesIO((tmp_path / names[1]).read_bytes()))
    assert sum(message.type == "set_tempo" for message in file.tracks[0]) == 3
    assert len(file.tracks) == 4
    assert file.length == pytest.approx(5 * 4 * 60 * (1 / 80 + 1 / 100 + 1 / 120), rel=1e-3)
    assert (tmp_path / names[2]).read_text(encoding="utf-8").startswith("<svg")
    assert (tmp_path / names[3]).read_bytes().startswith(b"%PDF")


def test_credits_stand_where_the_schema_wants_them(shelved: Run, tmp_path: Path) -> None:
    """After identification and before the part list: valid by the W3C's MusicXML 4.0 schema; read again as a line."""
    shelved("practice", "sheet", "Walk", "--order", "C", "--musicxml", "s.musicxml")
    assert_valid((tmp_path / "s.musicxml").read_text(encoding="utf-8"))
    tags = [child.tag for child in ElementTree.parse(tmp_path / "s.musicxml").getroot()]
    assert tags == ["work", "identification", *["credit"] * (len(tags) - 4), "part-list", "part"]
    assert shelved("add", "s.musicxml").code == 0


def test_variants_of_the_family_follow_in_each_key(shelved: Run) -> None:
    """Named over their first bar; a figure alone in its family has none."""
    done = shelved("practice", "sheet", "Walk", "--variants", "3", "--order", "C F")
    assert "C: Walk back" in done.out
    assert done.out.index("C: Walk back") < done.out.index("F: Walk back")
    done = shelved("practice", "sheet", "Wide", "--variants", "1")
    assert (done.code, "has no variants" in done.err) == (2, True)


def test_typed_figures_and_passages_need_no_shelf(shelved: Run) -> None:
    """Notes, intervals, a passage; a key that nobody said is told."""
    done = shelved("practice", "sheet", "--notes", "F2 A2 C3 D3 Bb2", "--order", "Cb")
    assert (done.code, "the key is judged from the notes: Bb major" in done.err) == (0, True)
    assert "C♭" in done.out
    assert shelved("practice", "sheet", "--intervals", "+4 +3", "--key", "C", "--order", "Gb").out.count("Db") == 1
    assert "Bb6" in shelved("practice", "sheet", "--like", "1", "1-2", "--order", "Bb").out


def test_progressions_forms_and_charts(shelved: Run, tmp_path: Path) -> None:
    """Over numerals in two keys, over a blues in the figure's key, over a chart file."""
    done = shelved("practice", "sheet", "Walk", "--over", "I V ii", "--order", "C F")
    assert (done.code, "Cmaj7" in done.out, "Fmaj7" in done.out) == (0, True, True)
    done = shelved("practice", "sheet", "--notes", "C3 E3 G3 A3", "--key", "C", "--form", "blues")
    assert (done.code, len(done.out.splitlines())) == (0, 13)
    (tmp_path / "my.chart").write_text("[A] | Eb6 | Bb7 | x2\n", encoding="utf-8")
    done = shelved("practice", "sheet", "Walk", "--chart", "my.chart")
    assert (done.code, "Eb6" in done.out) == (0, True)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("Wide",), "no octave of it lies within E1 to D4 (double bass)"),
        (("Walk", "--order", "H"), "unknown key"),
        (("Walk", "--order", "G#"), "say Ab"),
        (("Walk", "--key", "x"), "unknown key"),
        (("Wlak",), "did you mean 'Walk'?"),
        ((), "say which figure"),
        (("Walk", "--notes", "C D"), "in one way"),
        (("--notes", "C3"), "at least two notes"),
        (("Walk", "--over", "ii V", "--form", "blues"), "--over and --form"),
        (("Walk", "--over", "ii X"), "unknown numeral"),
        (("Walk", "--form", "sonata"), "there is no form"),
        (("Walk", "--chart", "none.txt"), "cannot be read as a chart"),
        (("Walk", "--chart", "study.abc"), "line 1"),
        (("Walk", "--instrument", "theremin"), "say it, as in --range"),
        (("Walk", "--range", "G3-E1"), "lower note first"),
        (("Walk", "--ladder", "120 80"), "start, step and goal"),
        (("Walk", "--below", "words"), "degrees or roles"),
        (("Walk", "--pdf", "a.x", "--svg", "a.x"), "a name of its own"),
        (("Walk", "--pdf", "a.pdf", "--paper", "A5"), "--paper"),
    ],
)
def test_sheets_that_cannot_be_made_are_refused(
    shelved: Run, tmp_path: Path, words: tuple[str, ...], message: str
) -> None:
    """In words, exit code 2, nothing written."""
    done = shelved("practice", "sheet", *words)
    assert (done.code, message in done.err) == (2, True), done.err
    assert not list(tmp_path.glob("a.*"))


def test_nothing_is_overwritten_or_half_written(shelved: Run, tmp_path: Path) -> None:
    """An existing file stops the whole order; a missing folder too; --force replaces."""
    (tmp_path / "s.mid").write_text("mine", encoding="utf-8")
    done = shelved("practice", "sheet", "Walk", "--midi", "s.mid", "--musicxml", "new.musicxml")
    assert (done.code, "--force" in done.err) == (2, True)
    assert (tmp_path / "s.mid").read_text(encoding="utf-8") == "mine"
    assert not (tmp_path / "new.musicxml").exists()
    assert shelved("practice", "sheet", "Walk", "--midi", "s.mid", "--force").code == 0
    assert shelved("practice", "sheet", "Walk", "--midi", "gone/s.mid").code == 2
