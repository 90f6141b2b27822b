"""Passages of every seed line, kept, written and read back."""

import json
from datetime import date
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from corpus.read.formats import pieces_of, read_piece
from corpus.read.written import ReadingWishes
from corpus.shelf.file import read_shelf, write_shelf
from corpus.shelf.keeping import from_passage
from corpus.shelf.schema import shelf_schema

SEED = Path(__file__).parents[2] / "seed_data"
FILES = sorted(path for path in SEED.iterdir() if path.suffix in (".abc", ".musicxml"))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_passages_of_the_seed_lines_come_back_from_the_file_as_they_were(path: Path) -> None:
    """Twelve passages of each line: notes, rhythm, chords, functions, keys, and the words of their source."""
    kept = []
    for number, piece in enumerate(pieces_of(path.read_bytes(), path.name)):
        line = read_piece(piece, ReadingWishes())
        step = max((len(line.notes) - 9) // 12, 1)
        starts = range(0, len(line.notes) - 8, step)
        whole = [s for s in starts if all(note.pitch is not None for note in line.notes[s : s + 8])]
        kept += [from_passage(f"{number} {first}", line, first, first + 7, None) for first in whole[:12]]
    data = write_shelf(kept)
    Draft202012Validator(shelf_schema()).validate(json.loads(data))
    assert read_shelf(data, path.name, date(2024, 1, 1)) == sorted(kept, key=lambda figure: figure.id_name)
    assert len(kept) >= 6
    assert all(chord.numeral and chord.key for figure in kept for chord in figure.chords if chord.symbol != "N.C.")
