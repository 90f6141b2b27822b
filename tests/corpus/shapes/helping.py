"""Small lines over chords, and what is found in them."""

from dataclasses import dataclass, replace

from corpus.harmony.symbols import ChordSymbol, parse_symbol
from corpus.model import TICKS_PER_QUARTER
from corpus.pitch import Key, parse_key
from corpus.shapes import Kind, Shape, shapes_of
from tests.generators.small import line_from


@dataclass(frozen=True)
class Chord:
    """A chord of a test."""

    onset_ticks: int
    end_ticks: int
    symbol: ChordSymbol | None
    key: Key | None


def shapes(notes: str, chords: str = "", key: str = "C", quarters: str = "1", each: int = 4) -> list[Shape]:
    """The shapes of a line in 4/4 over chords of ``each`` quarters; no key without chords."""
    ticks = each * TICKS_PER_QUARTER
    harmony = [
        Chord(i * ticks, (i + 1) * ticks, parse_symbol(word), parse_key(key)) for i, word in enumerate(chords.split())
    ]
    return shapes_of(replace(line_from(notes, quarters), chords=()), harmony)


def of(kind: Kind, found: list[Shape]) -> list[tuple[int, int, str]]:
    """First note, last note and words of the shapes of a kind."""
    return [(shape.first, shape.last, shape.words) for shape in found if shape.kind == kind]
