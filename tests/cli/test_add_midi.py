"""``add`` and ``check`` on MIDI files: the track, the first bar, the chart, and what is told."""

from pathlib import Path

from tests.cli.conftest import Run
from tests.corpus.read.midi_help import meta, midi, notes


def _session(folder: Path) -> Path:
    """A session of two lines after a bar of count-in, without chords."""
    bass = [meta(0, "track_name", name="Double bass"), *notes("46 50 53 52 51 50 48 45", start=4)]
    horn = [meta(0, "track_name", name="Trumpet"), *notes("70 - 72 74 75 77 79 81 82 - 81 79 - 77", 0.5, start=4)]
    file = folder / "session.mid"
    file.write_bytes(midi([meta(0, "set_tempo", tempo=400_000)], bass, horn))
    return file


def test_lines_of_a_session_are_added_one_by_one(run: Run, tmp_path: Path) -> None:
    """Each track is a line of its own; the same again is skipped; a chart gives chords and names to notes."""
    file = _session(tmp_path)
    chart = tmp_path / "changes.txt"
    chart.write_text("key: Bb\n| Bb6 | Cm7 F7 |\n", encoding="utf-8")
    told = run("add", file, "--track", "double", "--chart", chart)
    assert (told.code, "1 empty bar before the line left out" in told.err) == (0, True)
    assert run("add", file, "--track", "2").code == 0
    assert run("add", file, "--track", "3").code == 0
    assert "already there" in run("add", file, "--track", "3").err
    lines = run("list", "--json").json
    assert [line["notes"] for line in lines] == [8, 8, 11]
    bass = run("show", "1", "--json").json
    assert [note["spelling"] for note in bass["notes"]] == ["Bb2", "D3", "F3", "E3", "Eb3", "D3", "C3", "A2"]
    assert [note["chord"] for note in bass["notes"]] == ["Bb6"] * 4 + ["Cm7"] * 2 + ["F7"] * 2
    assert (bass["instrument"], bass["tempo"], [n["bar"] for n in bass["notes"]]) == (
        "Double bass",
        150.0,
        [1] * 4 + [2] * 4,
    )


def test_check_tells_the_choice_and_bad_wishes_are_told(run: Run, tmp_path: Path) -> None:
    """Which track is read where nobody chooses; a track, swing or bar that cannot be."""
    file = _session(tmp_path)
    assert "track 3 Trumpet is read, the single line with most notes" in run("check", file).out
    assert "no notes on track 'piano'" in run("check", file, "--track", "piano").err
    assert run("check", file, "--swing", "9").code == 2
    assert "ends before bar 90" in run("check", file, "--first-bar", "90").err
