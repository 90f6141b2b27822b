"""Packing: what is stored is what comes back, and newer formats are refused."""

import json
import struct
import zlib
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings

from corpus.errors import CorpusError
from corpus.model import Finding, Ornament, Transcription
from corpus.pitch import parse_spelling
from db.packing import pack_layout, pack_notes, pitch_of_note, unpack
from tests.generators.lines import walking_line
from tests.generators.small import line_from, lines


def there_and_back(line: Transcription) -> Transcription:
    """The line packed and unpacked."""
    return unpack(line.details, pack_notes(line), pack_layout(line))


@settings(max_examples=300, deadline=None)
@given(lines())
def test_a_line_comes_back_as_it_was(line: Transcription) -> None:
    """Notes, bars, chords and sections survive."""
    assert there_and_back(line) == line


@settings(max_examples=100, deadline=None)
@given(lines())
def test_single_notes_are_read_as_they_were_spelled(line: Transcription) -> None:
    """Without unpacking the others."""
    pitch_of = pitch_of_note(pack_notes(line))
    for number, note in enumerate(line.notes):
        if note.pitch is not None:
            assert pitch_of(number) == (note.pitch, parse_spelling(note.spelling).staff_position)


def test_ornaments_ghosts_and_findings_come_back() -> None:
    """What few lines have."""
    line = line_from("C3 D3 x Bbb2 F##4")
    notes = list(line.notes)
    notes[1] = notes[1]._replace(is_ghost=True, ornaments=(Ornament(49, "C#3"), Ornament(50, "D3")))
    findings = (Finding("leap", "far", 1, Fraction(7, 3), 2), Finding("reading", "whole line"))
    line = replace(line, notes=tuple(notes), findings=findings)
    assert there_and_back(line) == line


def test_bars_that_move_backwards_come_back() -> None:
    """After a repeat the written bar numbers fall."""
    line = walking_line(3, bars=6)
    bars = tuple(replace(bar, number=1 + i % 3, pass_number=1 + i // 3) for i, bar in enumerate(line.bars))
    assert there_and_back(replace(line, bars=bars)).bars == bars


def test_packed_notes_are_the_documented_bytes() -> None:
    """The header and the columns of a two-note line, taken apart by hand."""
    columns = zlib.decompress(pack_notes(line_from("Bb2 C3")))
    version, count, *rest = struct.unpack("<BI2i2i2H2b2b2B", columns)
    assert (version, count) == (1, 2)
    assert rest == [0, 10080, 10080, 10080, 0, 0, 46, 48, -1, 0, 0, 0]


def test_newer_formats_are_refused() -> None:
    """A later wellworn may pack differently: the error says which format."""
    line = line_from("C3 D3")
    layout = json.loads(zlib.decompress(pack_layout(line)))
    with pytest.raises(CorpusError, match="format 9"):
        unpack(line.details, pack_notes(line), zlib.compress(json.dumps({**layout, "version": 9}).encode()))
    columns = bytearray(zlib.decompress(pack_notes(line)))
    columns[0] = 9
    with pytest.raises(CorpusError, match="format 9"):
        unpack(line.details, zlib.compress(bytes(columns)), pack_layout(line))
