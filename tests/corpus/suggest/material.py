"""Figures and charts for the tests of suggested lines: typed by hand, invented."""

from corpus.check import Instrument, instrument_of
from corpus.harmony.chart import Chart, parse_chart
from corpus.model import TICKS_PER_QUARTER, Meter
from corpus.shelf.kept import KeptChord, KeptFigure, KeptNote
from corpus.suggest.source import Source, source_of_kept

RHYTHM = """title: Lantern Rhythm
key: Bb
form: A8 A8 B8 A8
[A] | Bb6 G7 | Cm7 F7 | Dm7 G7 | Cm7 F7 | Fm7 Bb7 | Eb6 Edim7 | Bb6 G7 | Cm7 F7 | x2
[B] | D7 | % | G7 | % | C7 | % | F7 | % |
[A] | Bb6 G7 | Cm7 F7 | Dm7 G7 | Cm7 F7 | Fm7 Bb7 | Eb6 Edim7 | Bb6 G7 | Cm7 F7 |
"""
BLUES = "key: F\n| F7 | Bb7 | F7 | % | Bb7 | Bdim7 | F7 | D7 | Gm7 | C7 | F7 D7 | Gm7 C7 |"


def chart(text: str) -> Chart:
    """A chart as text."""
    return parse_chart(text, "chart")


def double_bass() -> Instrument:
    """The usual instrument."""
    found = instrument_of("double bass")
    assert found is not None
    return found


def kept(name: str, notes: str, functions: str, key: str, quarters_a_chord: int) -> KeptFigure:
    """A figure in quarters from beat 1 of a 4/4 bar on."""
    quarter = TICKS_PER_QUARTER
    return KeptFigure(
        name=name,
        notes=tuple(KeptNote(text, index * quarter, quarter) for index, text in enumerate(notes.split())),
        chords=tuple(
            KeptChord("", numeral, key, index * quarters_a_chord * quarter)
            for index, numeral in enumerate(functions.split())
        ),
        key=key,
        meter=Meter(4, 4),
        beat=None,
    )


def figures() -> list[KeptFigure]:
    """A small shelf."""
    return [
        kept("down to five", "D2 F2 A2 C3 B2 A2 G2 F2", "ii V", "C", 4),
        kept("half-bar turn", "C2 Eb2 F2 E2", "ii V", "Bb", 2),
        kept("upper turn", "C3 B2 A2 Gb2", "ii V", "Bb", 2),
        kept("home", "C2 E2 G2 A2", "I", "C", 4),
        kept("home, then away", "Bb1 D2 G2 F2", "I V/ii", "Bb", 2),
        kept("five walks", "G2 A2 B2 D3", "V", "C", 4),
        kept("far from home", "D2 F#2 A2 C3", "V/vi", "Bb", 4),
    ]


def sources() -> list[Source]:
    """The shelf, ready."""
    return [source_of_kept(figure) for figure in figures()]
