"""Small transcriptions written as text, and a strategy that generates them, for tests."""

from collections.abc import Sequence
from fractions import Fraction

from hypothesis import strategies as st

from corpus.model import TICKS_PER_QUARTER, Bar, ChordSpan, Details, Meter, Note, Section, Transcription
from corpus.pitch import Key, parse_spelling

FOUR_FOUR = Meter(4, 4)


def line_from(text: str, quarters: str = "1", title: str = "Small study", key: Key | None = None) -> Transcription:
    """A line in 4/4 from note names: ``Bb2 D3 x r5 E3``.

    ``x`` is a dead note, ``rN`` a rest of N quarters; ``quarters`` are the durations, repeated as often as needed.
    """
    durations = [Fraction(word) for word in quarters.split()]
    notes: list[Note] = []
    tick = 0
    for word in text.split():
        if word.startswith("r"):
            tick += round(Fraction(word[1:]) * TICKS_PER_QUARTER)
            continue
        ticks = round(durations[len(notes) % len(durations)] * TICKS_PER_QUARTER)
        pitch = None if word == "x" else parse_spelling(word).pitch
        notes.append(Note(tick, ticks, pitch, "" if word == "x" else word, tick // FOUR_FOUR.bar_ticks))
        tick += ticks
    return transcription_of(notes, tick, title, key)


def transcription_of(
    notes: Sequence[Note], end_ticks: int, title: str = "Small study", key: Key | None = None
) -> Transcription:
    """A transcription in full 4/4 bars around notes, with a chord and a section for each four bars."""
    bar_ticks = FOUR_FOUR.bar_ticks
    count = max(-(-end_ticks // bar_ticks), 1)
    bars = tuple(Bar(i + 1, 1, i * bar_ticks, bar_ticks, 0, FOUR_FOUR, 1, key) for i in range(count))
    return Transcription(
        details=Details(title=title, meter=FOUR_FOUR, key=key),
        notes=tuple(notes),
        bars=bars,
        chords=tuple(ChordSpan(f"C{i}", i * bar_ticks, (i + 1) * bar_ticks) for i in range(count)),
        sections=(Section("A", 0, count * bar_ticks),),
    )


_NAMES = ("C3", "C#3", "Db3", "D3", "Eb3", "E3", "F3", "F#3", "G3", "C4", "B2", "Bb2", "A5", "G1")


@st.composite
def lines(draw: st.DrawFn, most: int = 24) -> Transcription:
    """Lines over few pitches (so that figures recur), with repeats, wide leaps, dead notes, long rests, rhythm."""
    words = draw(st.lists(st.sampled_from((*_NAMES, *_NAMES[:6], "x", "r1", "r5")), min_size=1, max_size=most))
    if all(word.startswith("r") for word in words):
        words.append("C3")
    quarters = draw(st.lists(st.sampled_from(("1", "1", "1/2", "2", "1/3", "3/4")), min_size=1, max_size=5))
    return line_from(" ".join(words), " ".join(quarters), key=draw(st.sampled_from((None, Key("C"), Key("Eb")))))
