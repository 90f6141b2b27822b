"""``list``, ``show``, ``edit``, ``remove`` and hostile names."""

import csv
import io
from pathlib import Path

from tests.cli.conftest import Run


def test_list_json_has_the_names_of_the_contract(filled: Run) -> None:
    """Transcription, title, player, collection, source, notes, bars, key, meter, in this order."""
    first, second = filled("list", "--json").json
    assert list(first) == ["transcription", "title", "player", "collection", "source", "notes", "bars", "key", "meter"]
    assert (first["notes"], first["bars"], first["key"], first["meter"]) == (33, 8, "Bb major", "4/4")
    assert (second["key"], second["meter"]) == ("D minor", "3/4")
    assert first["source"].endswith("study.abc")


def test_list_can_be_filtered_cut_and_written_as_csv(filled: Run) -> None:
    """The total is told on standard error."""
    assert [e["transcription"] for e in filled("list", "--player", "vey", "--json").json] == [2]
    cut = filled("list", "--limit", "1", "--json")
    assert (len(cut.json), "1 of 2 transcriptions" in cut.err) == (1, True)
    rows = list(csv.reader(io.StringIO(filled("list", "--csv").out)))
    assert (rows[0][0], rows[1][1]) == ("transcription", "Harbour Steps")
    table = filled("list")
    assert "Paper Boats" in table.out


def test_show_json_has_notes_with_place_time_pitch_chord_and_degree(filled: Run) -> None:
    """Onsets and durations in quarters; the chord symbol in force; the degree in the key."""
    shown = filled("show", "1", "--json").json
    assert {"transcription", "title", "instrument", "tempo", "form", "notes", "chords", "sections", "findings"} <= set(
        shown
    )
    third = shown["notes"][2]
    wanted = {"index": 2, "bar": 1, "beat": 3, "onset": 2.0, "duration": 1.0, "pitch": 39, "spelling": "Eb2"}
    assert {name: third[name] for name in wanted} == wanted
    assert (third["chord"], third["degree"]) == ("Bb6", "4")
    assert shown["notes"][3]["degree"] == "#4"
    assert [chord["symbol"] for chord in shown["chords"]][:2] == ["Bb6", "F7"]
    eighths = [note for note in shown["notes"] if note["bar"] == 7]
    assert [(note["beat"], note["duration"]) for note in eighths[:3]] == [(1, 0.5), (1.5, 0.5), (2, 0.5)]


def test_show_for_people_has_every_bar(filled: Run) -> None:
    """Bars, sections, chords, notes, choruses."""
    out = filled("show", "1").out
    assert "Harbour Steps, Orlo Quist" in out
    assert "chorus 2" in out
    assert "Bb1 D2 Eb2 E2" in out
    cut = filled("show", "1", "--limit", "2")
    assert "2 of 33 notes shown" in cut.err


def test_show_csv_is_a_row_a_note(filled: Run) -> None:
    """The names of the notes in JSON are the columns."""
    rows = list(csv.DictReader(io.StringIO(filled("show", "2", "--csv").out)))
    assert [row["spelling"] for row in rows] == ["D4", "F4", "G4", "G#4", "A4", "C5", "D5"]


def test_edit_and_remove(filled: Run) -> None:
    """Details change, lines go; unknown IDs and empty edits are refused."""
    assert filled("edit", "2", "--player", "Ada Crumb", "--year", "1999").code == 0
    assert filled("list", "--player", "crumb", "--year", "1999", "--json").json[0]["transcription"] == 2
    assert filled("edit", "2").code == 2
    assert filled("edit", "2", "--key", "X").code == 2
    assert filled("remove", "1", "9").code == 2
    assert filled("remove", "1").code == 0
    assert [e["transcription"] for e in filled("list", "--json").json] == [2]
    for command in (("show", "1"), ("map", "1"), ("edit", "1", "--title", "x"), ("remove", "1")):
        done = filled(*command)
        assert (done.code, "no transcription 1" in done.err) == (2, True)


def test_names_that_are_code_are_only_text(run: Run, tmp_path: Path) -> None:
    """Markup, terminal escapes and formulas in titles do nothing, wherever they are shown."""
    nasty = "=1+1 [red]\x1b[31mX\x1b]0;t\x07[/red] '; DROP TABLE source; --"
    path = tmp_path / "nasty.abc"
    path.write_text(f"X:1\nT:{nasty}\nM:4/4\nL:1/4\nK:C\nCDEF|\n")
    assert run("add", path).code == 0
    run("edit", "1", "--player", f"{nasty}\u202e")
    for command in (("list",), ("show", "1"), ("map", "1"), ("find", "--contour", "uuu")):
        done = run(*command)
        assert done.code == 0
        assert not set("\x1b\x07\u202e") & set(done.out + done.err)
        assert "[red]" in done.out
    row = next(csv.DictReader(io.StringIO(run("list", "--csv").out)))
    assert row["title"].startswith("'=1+1")
    assert run("list", "--player", nasty, "--json").code == 0
