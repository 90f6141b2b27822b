"""Short lines for tests of profiles: chords and notes typed in, 4/4."""

from fractions import Fraction

from corpus.form import chorus_numbers, parse_form
from corpus.model import TICKS_PER_QUARTER, Bar, ChordSpan, Details, Meter, Note, Transcription
from corpus.pitch import Key, parse_key, parse_spelling


def line(chords: str, notes: str, form: str = "", key: str = "") -> Transcription:
    """A line of quarters; ``chords`` are bars between ``|``, each with one or two chords, ``-`` for none.

    ``notes`` are spellings with an octave and perhaps a length (``C3/2`` an eighth, ``C32`` is not possible: ``C3*2`` a
    half); ``x`` a dead note, ``r`` a rest.
    """
    bar_ticks = 4 * TICKS_PER_QUARTER
    spans: list[ChordSpan] = []
    cells = chords.split("|")
    for number, cell in enumerate(cells):
        names = cell.split()
        for place, name in enumerate(names):
            start = number * bar_ticks + place * bar_ticks // len(names)
            if name != "-":
                spans.append(ChordSpan(name, start, start + bar_ticks // len(names)))
    found: list[Note] = []
    onset = Fraction(0)
    for word in notes.split():
        name, _, times = word.partition("*")
        name, _, parts = name.partition("/")
        length = Fraction(TICKS_PER_QUARTER) * int(times or 1) / int(parts or 1)
        start = int(onset)
        onset += length
        if name == "r":
            continue
        pitch = None if name == "x" else parse_spelling(name).pitch
        found.append(Note(start, int(length), pitch, "" if name == "x" else name, start // bar_ticks))
    declared: Key | None = parse_key(key) if key else None
    parsed = parse_form(form) if form else None
    bars = [Bar(i + 1, 1, i * bar_ticks, bar_ticks, 0, Meter(4, 4), 1, declared) for i in range(len(cells))]
    numbered = tuple(
        Bar(b.number, 1, b.onset_ticks, bar_ticks, 0, b.meter, chorus, declared)
        for b, chorus in zip(bars, chorus_numbers(bars, parsed), strict=True)
    )
    return Transcription(Details(title="Test", key=declared, form=parsed), tuple(found), numbered, tuple(spans))
