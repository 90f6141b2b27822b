"""``suggest``: from a chart to a line, with files, and what is said where something is missing."""

import io
from pathlib import Path
from typing import Any

import pytest

from corpus.check import check
from corpus.profile.profile import profile_of
from corpus.read.formats import pieces_of, read_piece
from corpus.read.written import ReadingWishes
from db.catalogue import Selection
from db.opening import open_database
from db.profile_lines import selected_lines
from tests.cli.conftest import Run
from tests.corpus.suggest.material import RHYTHM

pytestmark = pytest.mark.no_sql(reason="lines are made in memory; there is db/test_suggest")

SEED = Path(__file__).parents[2] / "seed_data" / "walking_lines.abc"


@pytest.fixture
def shelf(filled: Run) -> Run:
    """Two kept figures over known functions, one without."""
    typed = ("--lengths", "1 1 1 1", "--key", "C")
    assert filled("shelf", "add", "two", "--notes", "D2 F2 A2 G#2", *typed, "--functions", "ii").code == 0
    assert filled("shelf", "add", "five", "--notes", "G2 F2 E2 D2", *typed, "--functions", "V").code == 0
    assert filled("shelf", "add", "bare", "--notes", "G2 F2 E2 Eb2").code == 0
    return filled


def test_figures_are_transposed_to_the_key_and_named_bar_by_bar(shelf: Run) -> None:
    """ii and V in F: the figures from C, a fourth up or a fifth down; what cannot be used is told."""
    done = shelf("suggest", "key: F\n| Gm7 | C7 | Fmaj7 | % |", "--json")
    assert done.code == 0, done.err
    bars = done.json["bars"]
    assert [bar["figure"] for bar in bars] == ["two", "five", None, None]
    assert bars[0]["transposed"] % 12 == 5
    assert [note["spelling"][:-1] for note in bars[0]["notes"]] == ["G", "Bb", "D", "C#"]
    assert any("1 of 3 figures cannot be used" in remark for remark in done.json["remarks"])
    shown = shelf("suggest", "key: F\n| Gm7 | C7 | Fmaj7 | % |")
    assert "filled in" in shown.out
    assert "two: bar 1 " in shown.out


def test_a_file_and_an_id_are_charts_too(shelf: Run, tmp_path: Path) -> None:
    """The same line as when typed; a stored line's chart is taken."""
    text = "key: F\n| Gm7 | C7 | Fmaj7 | % |"
    (tmp_path / "changes.txt").write_text(text, encoding="utf-8")
    assert shelf("suggest", str(tmp_path / "changes.txt")).out == shelf("suggest", text).out
    done = shelf("suggest", "1", "--json")
    assert [bar["chords"] for bar in done.json["bars"][:3]] == [["Bb6"], ["F7"], ["Bb6"]]
    assert done.json["title"] == "Harbour Steps"


def test_lines_are_written_as_musicxml_and_midi(shelf: Run, tmp_path: Path) -> None:
    """Read again, the notes are those of the JSON; the MIDI file holds them too; nothing is overwritten unasked."""
    import mido

    xml, midi = tmp_path / "line.musicxml", tmp_path / "line.mid"
    done = shelf("suggest", "| Dm7 | G7 | C6 |", "--json", "--musicxml", str(xml), "--midi", str(midi))
    assert done.code == 0, done.err
    pitches = [note["pitch"] for bar in done.json["bars"] for note in bar["notes"]]
    (piece,) = pieces_of(xml.read_bytes(), "line.musicxml")
    line = read_piece(piece, ReadingWishes())
    assert [note.pitch for note in line.notes] == pitches
    assert check(line) == ()
    track = mido.MidiFile(file=io.BytesIO(midi.read_bytes())).tracks[1]
    assert [message.note for message in track if message.type == "note_on" and message.velocity] == pitches
    again = shelf("suggest", "| Dm7 |", "--midi", str(midi))
    assert (again.code, "--force" in again.err) == (2, True)


REFUSED = [
    (("| Dm7 | G7x |",), "line 1, column 11"),
    (("| N.C. |",), "no chord of the chart"),
    (("",), "the chart is empty"),
    (("99",), "99"),
    (("2",), "no chord symbols"),
    (("changes.txt",), "is no file"),
    (("| C |", "--from", "air"), "--from"),
    (("| C |", "--roots", "some"), "--roots"),
    (("| C |", "--variety", "none"), "--variety"),
    (("| C |", "--instrument", "kazoo"), "no known range"),
    (("| C |", "--player", "nobody"), "no transcription"),
    (("| C |", "--chorus", "2"), "goes with the ID"),
    (("1", "--chorus", "9"), "no chorus 9"),
    (("| C |", "--midi", "a.x", "--musicxml", "a.x"), "a name of its own"),
]


def test_what_makes_no_sense_is_refused(filled: Run) -> None:
    """With place and cure, exit code 2."""
    for words, message in REFUSED:
        done = filled("suggest", *words)
        assert (done.code, message in done.err) == (2, True), (words, done.err)


def test_empty_shelf_and_corpus_are_told(run: Run, filled: Run) -> None:
    """From an empty shelf to the corpus, and from an empty corpus to a line that is all filled in."""
    done = filled("suggest", "| Dm7 | G7 | C6 |")
    assert "the shelf is empty: figures of the corpus are used" in done.err
    assert filled("remove", "1", "2").code == 0
    done = filled("suggest", "| Dm7 | G7 | C6 |", "--json")
    assert done.code == 0
    assert {bar["figure"] for bar in done.json["bars"]} == {None}
    assert any("no recurring figure" in remark for remark in done.json["remarks"])
    done = filled("suggest", "| C |", "--from", "shelf")
    assert "the shelf is empty" in done.err


STRONG_CHORD_TONES = ("kinds.first_beats.chord", "kinds.middle_beats.chord")


def shares(url: str) -> list[float]:
    """For each stored line the share of chord tones among notes on strong beats."""
    opened = open_database(url)
    found: list[float] = []
    with opened.reading() as connection:
        ids = connection.exec_driver_sql("SELECT id FROM transcription ORDER BY id").scalars().all()
        for identity in ids:
            profile = profile_of(selected_lines(connection, Selection(ids=(identity,))).columns)
            strong = [m for m in profile.measures if m.key in STRONG_CHORD_TONES]
            assert len(strong) == 2
            found.append(sum(m.count or 0 for m in strong) / sum(m.n for m in strong))
    opened.close()
    return found


def test_suggested_lines_behave_like_the_corpus_they_come_from(run: Run, tmp_path: Path, new_url: str) -> None:
    """Stored and profiled as any line, its share of chord tones on strong beats lies in the corpus's range."""
    assert run("add", str(SEED)).code == 0
    known: Any = shares(new_url)
    assert len(known) >= 4
    (tmp_path / "changes.txt").write_text(RHYTHM, encoding="utf-8")
    for name, wish in (("a", ()), ("b", ("--player", "varga")), ("c", ("--roots", "few"))):
        path = tmp_path / f"{name}.musicxml"
        order = ("suggest", str(tmp_path / "changes.txt"), "--from", "corpus", "--musicxml", str(path), *wish)
        assert run(*order).code == 0
        assert run("add", str(path)).code == 0
    ours = shares(new_url)[len(known) :]
    assert len(ours) == 3
    assert all(min(known) <= share <= max(known) for share in ours), (known, ours)
