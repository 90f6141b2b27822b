"""Readings against published contour codes, hand-worked examples, and their laws on generated lines."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.model import Transcription
from corpus.pitch import Key
from corpus.readings import (
    BREAK,
    OVERFLOW,
    READING_NAMES,
    SIGNED_SYMBOLS,
    ReadingName,
    all_readings,
    line_of,
    parsons_code,
    read,
)
from tests.generators.small import line_from, lines, transcription_of

# Contour codes as printed by Denys Parsons, The Directory of Tunes and Musical Themes, 1975, quoted in the encyclopedia
# article "Parsons code" (looked up). The notes of the melodies themselves are common property, written from memory.
TWINKLE = "C4 C4 G4 G4 A4 A4 G4 F4 F4 E4 E4 D4 D4 C4 G4 G4 F4 F4 E4 E4 D4 G4 G4 F4 F4 E4 E4 D4"
TWINKLE_END = "C4 C4 G4 G4 A4 A4 G4 F4 F4 E4 E4 D4 D4 C4"
SILENT_NIGHT = (
    "G4 A4 G4 E4 G4 A4 G4 E4 D5 D5 B4 C5 C5 G4 A4 A4 C5 B4 A4 G4 A4 G4 E4 A4 A4 C5 B4 A4 G4 A4 G4 E4 "
    "D5 D5 F5 D5 B4 C5 E5 C5 G4 E4 G4 F4 D4 C4"
)
AURA_LEA = "C4 F4 E4 F4 G4 D4 G4 F4 E4 D4 E4 F4"


@pytest.mark.parametrize(
    ("melody", "code"),
    [
        (f"{TWINKLE} {TWINKLE_END}", "*rururddrdrdrdurdrdrdurdrdrddrururddrdrdrd"),
        (SILENT_NIGHT, "*udduuddurdurdurudddudduruddduddurudduuddduddd"),
        (AURA_LEA, "*uduududdduu"),
    ],
)
def test_contour_is_the_published_code(melody: str, code: str) -> None:
    """The contour of a well-known tune is the code printed in the directory."""
    assert parsons_code(line_of(line_from(melody))) == code


def test_readings_of_a_short_line_worked_out_by_hand() -> None:
    """Every reading of Bb2 D3 Eb3 E3 E3 Bb2 in Bb major, symbol by symbol."""
    line = line_of(line_from("Bb2 D3 Eb3 E3 E3 Bb2", "1 1 1/2 1/2 1 1", key=Key("Bb")))
    assert read(line, "interval") == BREAK + "qnnmg"
    assert read(line, "folded") == BREAK + "ebbag"
    assert read(line, "step") == BREAK + "onmmj"
    assert read(line, "letter") == BREAK + "cbaae"
    assert read(line, "contour") == BREAK + "uuurd"
    # gaps in quarters 1 1 1/2 1/2 1, each over the one before: 1, 1/2, 1, 2
    assert read(line, "rhythm") == BREAK + BREAK + "mhmr"
    assert read(line, "degree") == "aefgga"
    assert read(line.collapsed, "interval") == BREAK + "qnng"


def test_dead_notes_and_long_rests_break_pitch_readings_but_not_rhythm() -> None:
    """A break stands at a dead note, after it, and after a rest longer than a bar."""
    line = line_of(line_from("C3 x D3 E3 r5 F3 r4 G3"))
    assert read(line, "interval") == "000o0o"
    assert BREAK not in read(line, "rhythm")[2:]


def test_widest_leaps_share_the_overflow_symbol() -> None:
    """An octave has a symbol, anything wider is the overflow."""
    assert read(line_of(line_from("C2 C3 C2 C#3")), "interval") == f"{BREAK}ya{OVERFLOW}"


def test_symbols_of_a_reading_are_distinct() -> None:
    """No two intervals share a symbol."""
    assert len(set(SIGNED_SYMBOLS.values())) == len(SIGNED_SYMBOLS) == 25


@settings(max_examples=300, deadline=None)
@given(lines(), st.integers(-20, 40))
def test_readings_do_not_change_when_a_line_is_transposed(line: Transcription, semitones: int) -> None:
    """Interval, folded interval, contour and rhythm are those of the line at any pitch."""
    notes = [note if note.pitch is None else note._replace(pitch=note.pitch + semitones) for note in line.notes]
    columns, moved = line_of(line), line_of(replace(line, notes=tuple(notes)))
    names: tuple[ReadingName, ...] = ("interval", "folded", "contour", "rhythm")
    assert [read(columns, name) for name in names] == [read(moved, name) for name in names]


@settings(max_examples=300, deadline=None)
@given(lines())
def test_every_reading_has_one_symbol_a_note_and_positions_map_back(line: Transcription) -> None:
    """Plain readings are as long as the line; runs cover it without gaps, each of one pitch."""
    columns = line_of(line)
    readings = all_readings(columns)
    runs = columns.runs
    assert {len(readings.plain[name]) for name in READING_NAMES} == {len(line.notes)}
    assert {len(readings.collapsed[name]) for name in READING_NAMES} == {len(runs.firsts)}
    covered = [i for first, last in zip(runs.firsts, runs.lasts, strict=True) for i in range(first, last + 1)]
    assert covered == list(range(len(line.notes)))
    for first, last in zip(runs.firsts, runs.lasts, strict=True):
        assert len({line.notes[i].pitch for i in range(first, last + 1)}) == 1
    alphabet = set("abcdefghijklmnopqrstuvwxyz0")
    assert all(set(readings.plain[name]) <= alphabet for name in READING_NAMES)


def test_an_empty_line_has_empty_readings() -> None:
    """No notes, no symbols, no error."""
    columns = line_of(transcription_of([], 0))
    assert {read(columns, name) for name in READING_NAMES} == {""}
