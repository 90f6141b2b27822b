"""A kept figure made ready for a sheet: notes spelled in its key, rhythm in a bar, chords with their places."""

from dataclasses import dataclass
from fractions import Fraction

from corpus.harmony.key_spelling import respelled
from corpus.harmony.numerals import parse_numeral
from corpus.harmony.symbols import ChordSymbol, read_symbol, transpose_symbol
from corpus.model import TICKS_PER_QUARTER, Meter
from corpus.pitch import Key, SpelledPitch, parse_key, parse_spelling
from corpus.sheet.frames import numeral_symbol
from corpus.sheet.keys import key_of
from corpus.shelf.kept import KeptFigure
from corpus.transposition import Transposition

COMMON_TIME = Meter(4, 4)
NoteOf = tuple[int, int, SpelledPitch]
"""Onset from the first note and length in ticks, and pitch."""


@dataclass(frozen=True, slots=True)
class Material:
    """A figure ready to be set.

    ``start_ticks`` is the place of the first note in its bar. ``chords`` are ticks from the first note and symbols;
    ``are_placed`` says whether the ticks are known (typed chords just follow each other).
    """

    name: str
    key: Key
    is_key_known: bool
    meter: Meter
    start_ticks: int
    notes: tuple[NoteOf, ...]
    chords: tuple[tuple[int, ChordSymbol], ...]
    are_placed: bool

    @property
    def length_ticks(self) -> int:
        """From the first note's beginning to the last one's end."""
        return max(onset + length for onset, length, _ in self.notes)

    @property
    def chord_words(self) -> str:
        """Its chords, as they are read."""
        return " ".join(symbol.canonical for _, symbol in self.chords)


def material_of(figure: KeptFigure, key: Key | None = None) -> Material:
    """A figure made ready; ``key`` overrides the key that it is in.

    A figure without rhythm is set in even eighths from the first beat of a 4/4 bar.
    """
    found, is_known = (key, True) if key is not None else key_of(figure)
    meter = figure.meter or COMMON_TIME
    beat = (figure.beat or Fraction(1)) if figure.has_rhythm else Fraction(1)
    start = int((beat - 1) * meter.beat_ticks) % meter.bar_ticks
    notes = []
    for index, note in enumerate(figure.notes):
        onset, length = note.onset_ticks, note.duration_ticks
        if onset is None or length is None:
            onset, length = index * TICKS_PER_QUARTER // 2, TICKS_PER_QUARTER // 2
        notes.append((onset, length, respelled(parse_spelling(note.spelling), found)))
    chords, placed = _chords(figure)
    return Material(figure.name, found, is_known, meter, start, tuple(notes), chords, placed)


def _chords(figure: KeptFigure) -> tuple[tuple[tuple[int, ChordSymbol], ...], bool]:
    found = []
    for chord in figure.chords:
        symbol = read_symbol(chord.symbol) if chord.symbol else None
        if symbol is None and chord.numeral and chord.key:
            symbol = numeral_symbol(parse_numeral(chord.numeral), parse_key(chord.key))
        if symbol is not None and symbol.root is not None:
            found.append((chord.onset_ticks, symbol))
    placed = all(onset is not None for onset, _ in found)
    return tuple((onset or 0, symbol) for onset, symbol in found), placed


def moved_symbol(symbol: ChordSymbol, interval: Transposition) -> str:
    """A chord symbol moved by an interval, in its canonical spelling."""
    return transpose_symbol(symbol, interval.semitones, interval.steps).canonical
