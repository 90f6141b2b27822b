"""``export`` of selections: music into folders and books, notes into tables, read back by other programs."""

import csv
import json
from pathlib import Path
from typing import Any

import mido
import symusic
from music21 import converter
from music21.note import Note

from tests.cli.conftest import Run


def test_a_selection_is_written_in_every_form(stored: Run, tmp_path: Path) -> None:
    """A file a line in folders, one ABC book, one table; mido, symusic and music21 find the notes in them."""
    folders = ("--musicxml", f"{tmp_path}/xml/", "--midi", f"{tmp_path}/midi/")
    told = stored("export", "--all", *folders, "--abc", tmp_path / "all.abc", "--csv", tmp_path / "notes.csv")
    assert (told.code, told.out) == (0, "")
    assert told.err.splitlines()[-2:] == [f"{tmp_path / 'all.abc'}: 2 lines", f"{tmp_path / 'notes.csv'}: 40 rows"]
    names = ["001_harbour_steps_orlo_quist", "002_paper_boats_tamsin_vey"]
    assert [sorted(path.stem for path in (tmp_path / kind).iterdir()) for kind in ("xml", "midi")] == [names, names]
    pitches = [note["pitch"] for note in stored("show", "1", "--json").json["notes"]]
    file = tmp_path / "midi" / f"{names[0]}.mid"
    heard = [m.note for track in mido.MidiFile(file).tracks for m in track if m.type == "note_on" and m.velocity]
    assert heard == pitches
    tracks: Any = symusic.Score(file)
    assert [note.pitch for track in tracks.tracks for note in track.notes] == pitches
    score = converter.parse(tmp_path / "xml" / f"{names[0]}.musicxml", forceSource=True).toSoundingPitch()
    merged = [n for n in score.recurse().getElementsByClass(Note) if n.tie is None or n.tie.type == "start"]
    assert [n.pitch.midi for n in merged] == pitches
    rows = list(csv.DictReader((tmp_path / "notes.csv").open(encoding="utf-8")))
    assert [int(row["pitch"]) for row in rows if row["transcription"] == "1"] == pitches


def test_what_is_exported_as_abc_or_midi_is_added_again(stored: Run, tmp_path: Path) -> None:
    """The same bars, beats, pitches and chords come back from the book and from the MIDI file."""
    assert stored("export", "1", "2", "--abc", tmp_path / "book.abc", "--midi", f"{tmp_path}/takes/").code == 0
    before = stored("show", "1", "--json").json["notes"]
    assert stored("add", tmp_path / "book.abc", tmp_path / "takes").code == 0
    for identity in ("3", "5"):
        after = stored("show", identity, "--json").json["notes"]
        for name in ("bar", "beat", "duration", "pitch", "chord", "role"):
            assert [note[name] for note in after] == [note[name] for note in before], name


def test_filters_and_ids_choose_and_what_is_missing_is_told(stored: Run, tmp_path: Path) -> None:
    """A player; an ID that is not there; nothing chosen; many lines and one file; a file that is there."""
    assert stored("export", "--player", "vey", "--jsonl", tmp_path / "n.jsonl").code == 0
    rows = [json.loads(line) for line in (tmp_path / "n.jsonl").read_text(encoding="utf-8").splitlines()]
    assert {row["player"] for row in rows} == {"Tamsin Vey"}
    for words, told in (
        (("1", "9", "--abc", "x.abc"), "there is no transcription 9"),
        (("--player", "nobody", "--abc", "x.abc"), "no line answers"),
        (("--abc", "x.abc"), "say which lines"),
        (("--all", "--midi", str(tmp_path / "one.mid")), f"name a folder, {tmp_path}/one.mid/"),
        (("--all", "--midi", f"{tmp_path}/no/where/"), "there is no folder"),
        (("--all", "--abc", str(tmp_path / "n.jsonl")), "--force"),
    ):
        outcome = stored("export", *words)
        assert (outcome.code, told in outcome.err) == (2, True), outcome.err
    assert stored("export", "--all", "--midi", f"{tmp_path}/m/").code == 0
    assert "--force replaces it" in stored("export", "--all", "--midi", f"{tmp_path}/m/").err
    assert stored("export", "--all", "--midi", f"{tmp_path}/m/", "--force").code == 0


def test_places_that_were_found_are_a_table(stored: Run, tmp_path: Path) -> None:
    """A row a place, in the form of the file's name; another name is refused before the search."""
    target = tmp_path / "places.csv"
    assert stored("find", "--intervals", "+4 +1", "--table", target).code == 0
    rows = list(csv.DictReader(target.open(encoding="utf-8")))
    shown = stored("find", "--intervals", "+4 +1", "--json").json
    assert [(int(r["transcription"]), int(r["first"])) for r in rows] == [
        (h["transcription"], h["first"]) for h in shown
    ]
    assert "--force" in stored("find", "--intervals", "+4 +1", "--table", target).err
    assert "let it end in" in stored("find", "--intervals", "+4 +1", "--table", tmp_path / "places.txt").err
