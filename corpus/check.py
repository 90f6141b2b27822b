"""Does a transcription make musical sense? Findings with bar and beat; nothing is changed and nothing refused.

=======  ==========================================================================================
kind     what is pointed at
=======  ==========================================================================================
meter    a bar that does not fill its meter, or holds more
range    a note outside the instrument's range
chord    bars of a charted line that no chord symbol covers, or one symbol for longer than a phrase
form     a length that is no multiple of the form
leap     a leap wider than an octave, or one note an octave away from where its neighbours expect it
reading  what a reader left out or guessed (made by the readers)
=======  ==========================================================================================
"""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from corpus.model import TICKS_PER_QUARTER, Bar, Finding, Transcription
from corpus.pitch import default_spelling, interval_name

KINDS: Final = ("meter", "range", "chord", "form", "leap", "reading")
LONGEST_CHORD_BARS: Final = 8
"""A symbol that covers more bars than a long phrase usually means that some were left out."""


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument's usual name, other words for it, and its sounding range as MIDI numbers."""

    name: str
    words: tuple[str, ...]
    lowest: int
    highest: int


INSTRUMENTS: Final = (
    # Written for orchestral and jazz use: common practice, as orchestration handbooks give it; no single source.
    Instrument("bass guitar", ("bass guitar", "electric bass"), 28, 67),
    Instrument("bass clarinet", ("bass clarinet",), 34, 82),
    Instrument("bass trombone", ("bass trombone",), 28, 67),
    Instrument("baritone saxophone", ("baritone sax", "bari sax"), 36, 69),
    Instrument("double bass", ("double bass", "contrabass", "upright bass", "acoustic bass", "string bass"), 28, 67),
    Instrument("tenor saxophone", ("tenor sax",), 44, 76),
    Instrument("alto saxophone", ("alto sax",), 49, 81),
    Instrument("soprano saxophone", ("soprano sax",), 56, 88),
    Instrument("flugelhorn", ("flugelhorn",), 52, 82),
    Instrument("trumpet", ("trumpet", "cornet"), 52, 86),
    Instrument("trombone", ("trombone",), 40, 77),
    Instrument("clarinet", ("clarinet",), 50, 94),
    Instrument("flute", ("flute",), 60, 98),
    Instrument("guitar", ("guitar",), 40, 88),
    Instrument("violin", ("violin", "fiddle"), 55, 103),
    Instrument("cello", ("cello", "violoncello"), 36, 84),
    Instrument("vibraphone", ("vibraphone", "vibes"), 53, 89),
    Instrument("piano", ("piano",), 21, 108),
    Instrument("double bass", ("bass",), 28, 67),
)


def instrument_of(name: str) -> Instrument | None:
    """The instrument that a name such as ``Tenor Sax in Bb`` means, or None for one without a known range."""
    lowered = " ".join(name.casefold().split())
    for instrument in INSTRUMENTS:
        if any(word in lowered for word in instrument.words):
            return instrument
    return None


def check(transcription: Transcription) -> tuple[Finding, ...]:
    """All findings about a transcription, the readers' remarks first, then kind by kind in the order of bars."""
    return (
        *transcription.findings,
        *_meter(transcription),
        *_range(transcription),
        *_chord(transcription),
        *_form(transcription),
        *_leap(transcription),
    )


def _at(transcription: Transcription, kind: str, text: str, note_index: int) -> Finding:
    bar = transcription.bar_of(note_index)
    return Finding(kind, text, bar.number, transcription.beat_of(note_index), bar.pass_number)


def _beats(ticks: int, bar: Bar) -> str:
    beats = Fraction(ticks, bar.meter.beat_ticks)
    return f"{float(beats):.4g}"


def _meter(transcription: Transcription) -> Iterator[Finding]:
    """Bars that are short or long, once for each written bar.

    Two short neighbours that fill one meter together are a bar that a repeat or double bar divides; a short last bar
    may complete the pickup.
    """
    bars = transcription.bars
    short = [bar.meter.bar_ticks - bar.length_ticks for bar in bars]
    excused: set[int] = set()
    for index, bar in enumerate(bars):
        if bar.padding_ticks or bar.number == 0:
            excused.add(index)
        full = bar.meter.bar_ticks
        if index and index - 1 not in excused and short[index] > 0 and short[index - 1] + short[index] == full:
            excused.update((index - 1, index))
    if bars and bars[0].length_ticks + bars[-1].length_ticks == bars[-1].meter.bar_ticks:
        excused.add(len(bars) - 1)
    told: set[tuple[int, int]] = set()
    for index, bar in enumerate(bars):
        if not short[index] or index in excused or (bar.number, bar.length_ticks) in told:
            continue
        if index + 1 < len(bars) and bars[index + 1].number == 0 and short[index] == bars[index + 1].length_ticks:
            continue  # before a repeat that goes back to the pickup
        told.add((bar.number, bar.length_ticks))
        held = _beats(bar.length_ticks, bar)
        beats = "beat" if held == "1" else "beats"
        text = f"the bar holds {held} {beats}, {'less' if short[index] > 0 else 'more'} than {bar.meter}"
        yield Finding("meter", text, bar.number, None, bar.pass_number)


def _range(transcription: Transcription) -> Iterator[Finding]:
    instrument = instrument_of(transcription.details.instrument)
    if instrument is None:
        return
    for index, note in enumerate(transcription.notes):
        if note.pitch is not None and not instrument.lowest <= note.pitch <= instrument.highest:
            side = "below" if note.pitch < instrument.lowest else "above"
            limit = default_spelling(instrument.lowest if side == "below" else instrument.highest)
            yield _at(
                transcription,
                "range",
                f"{note.spelling} (sounding) lies {side} the range of the {instrument.name}, which ends at {limit}",
                index,
            )


def _chord(transcription: Transcription) -> Iterator[Finding]:
    if not transcription.chords:
        return
    bare = [
        bar
        for bar in transcription.bars
        if not bar.padding_ticks
        and bar.pass_number == 1
        and not transcription.chords_between(bar.onset_ticks, bar.onset_ticks + max(bar.length_ticks, 1))
    ]
    for bar in bare:
        yield Finding("chord", "no chord symbol stands over this bar", bar.number, None, bar.pass_number)
    for chord in transcription.chords:
        covered = [bar for bar in transcription.bars if chord.onset_ticks <= bar.onset_ticks < chord.end_ticks]
        if len(covered) > LONGEST_CHORD_BARS:
            text = f"{chord.symbol} stands alone for {len(covered)} bars: are symbols missing?"
            yield Finding("chord", text, covered[0].number, None, covered[0].pass_number)


def _form(transcription: Transcription) -> Iterator[Finding]:
    form = transcription.details.form
    if form is None:
        return
    full = [bar for bar in transcription.bars if not bar.padding_ticks and bar.number != 0]
    rest = len(full) % form.bars
    if rest:
        text = f"{len(full)} bars are no multiple of the form's {form.bars}: {rest} more than {len(full) - rest}"
        yield Finding("form", text, full[-1].number, None, full[-1].pass_number)


def _leap(transcription: Transcription) -> Iterator[Finding]:
    notes = transcription.notes
    for index in range(1, len(notes)):
        before, here = notes[index - 1].pitch, notes[index].pitch
        if before is None or here is None:
            continue
        if notes[index].onset_ticks - notes[index - 1].end_ticks >= TICKS_PER_QUARTER * 2:
            continue  # after a rest a new phrase may begin anywhere
        leap = here - before
        following = notes[index + 1].pitch if index + 1 < len(notes) else None
        if abs(leap) > 12:
            yield _at(
                transcription,
                "leap",
                f"{notes[index - 1].spelling} to {notes[index].spelling} leaps {interval_name(leap)}: right octave?",
                index,
            )
        elif following is not None and _stands_apart(before, here, following):
            text = f"{notes[index].spelling} stands an octave away from its neighbours: right octave?"
            yield _at(transcription, "leap", text, index)


def _stands_apart(before: int, here: int, following: int) -> bool:
    """Whether a note leaps away and back by a major sixth or more, while an octave nearer it would fit in by steps."""
    away, back = here - before, following - here
    if min(abs(away), abs(back)) < 9 or away * back >= 0:
        return False
    nearer = here - 12 if away > 0 else here + 12
    return abs(nearer - before) <= 3 and abs(nearer - following) <= 3
