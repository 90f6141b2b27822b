"""Short forms for the ABC tests: read a body, show notes and bars."""

from fractions import Fraction

from corpus.model import TICKS_PER_QUARTER
from corpus.read.abc import read_abc_tune, split_tunes
from corpus.read.written import ReadingWishes, WrittenLine

HEAD = "M:4/4\nL:1/8\nK:C\n"


def read(body: str, head: str = HEAD, wishes: ReadingWishes | None = None) -> WrittenLine:
    """The written line of an invented tune; ``head`` ends with its K: line."""
    (tune,) = split_tunes(f"X:3\nT:Test Tune\n{head}{body}\n".encode(), "tunes.abc")
    return read_abc_tune(tune, wishes or ReadingWishes())


def names(line: WrittenLine) -> str:
    """The spellings of all notes, a stroke between bars: ``C4 D4 | E4``. Dead notes are ``x``."""
    return " | ".join(" ".join(note.spelling or "x" for note in bar.notes) for bar in line.bars)


def lengths(line: WrittenLine) -> list[Fraction]:
    """The lengths of all notes in quarter notes."""
    return [Fraction(note.duration_ticks, TICKS_PER_QUARTER) for bar in line.bars for note in bar.notes]


def chords(line: WrittenLine) -> list[tuple[int, str, float]]:
    """Bar number, text and offset in quarter notes of all chord symbols."""
    return [
        (bar.number, chord.symbol, chord.offset_ticks / TICKS_PER_QUARTER) for bar in line.bars for chord in bar.chords
    ]
