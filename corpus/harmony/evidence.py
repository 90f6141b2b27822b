"""How much each note of a line tells about the chord.

========================= ======= ===========================================================================
a note that …             weighs
========================= ======= ===========================================================================
starts the chord or bar   1.5     where listeners expect the harmony (common practice, no source)
starts on a middle beat   1.2     the third of four
starts between beats      0.7
is long, is short         × 0.7 to 1.4, the square root of its length in beats
passes or turns           × 0.4   weak, reached and left by step: a passing or neighbour note
leads into the next chord × 0.4   the last note, a half-step from the first note over the next chord
repeats a pitch class     × 0.6   said already
========================= ======= ===========================================================================

The first note of a bass line over a chord is where its root is expected.
"""

from collections.abc import Sequence
from math import sqrt
from typing import Final

from corpus.harmony.spelled import Heard
from corpus.model import Note, Transcription

BASS_BELOW: Final = 55
"""A line whose middle pitch lies below G3 is taken for a bass."""
STRONG, MIDDLE, OFF_BEAT, MOVING, LEADING, AGAIN = 1.5, 1.2, 0.7, 0.4, 0.4, 0.6


def is_bass(line: Transcription) -> bool:
    """Whether a line plays the bass: by its instrument's name, else by its middle pitch."""
    if line.details.instrument:
        return "bass" in line.details.instrument.lower()
    pitches = sorted(note.pitch for note in line.notes if note.pitch is not None)
    return bool(pitches) and pitches[len(pitches) // 2] < BASS_BELOW


def weigh(line: Transcription, first: int, last: int, start_ticks: int, *, root_place: bool) -> list[Heard]:
    """The notes ``first`` to ``last`` as evidence for a chord that starts at ``start_ticks``; dead notes say nothing.

    ``root_place`` says whether the first note is where a root is expected.
    """
    found: list[Heard] = []
    seen: set[int] = set()
    for index in range(first, last + 1):
        note = line.notes[index]
        if note.pitch is None:
            continue
        weight = _place_weight(line, index, start_ticks) * _length_weight(line, note)
        if note.onset_ticks > start_ticks and _moves(line.notes, index):
            weight *= MOVING
        elif index == last > first and _leads(line.notes, index):
            weight *= LEADING
        pitch_class = note.pitch % 12
        weight *= AGAIN if pitch_class in seen else 1.0
        seen.add(pitch_class)
        found.append(Heard(pitch_class, weight, root_place and not found and note.onset_ticks == start_ticks))
    return found


def _place_weight(line: Transcription, index: int, start_ticks: int) -> float:
    if line.notes[index].onset_ticks == start_ticks:
        return STRONG
    beat, beats = line.beat_of(index), line.bar_of(index).meter.numerator
    if beat == 1:
        return STRONG
    if beat.denominator != 1:
        return OFF_BEAT
    return MIDDLE if beats in (4, 6, 12) and beat == 1 + beats // 2 else 1.0


def _length_weight(line: Transcription, note: Note) -> float:
    beats = note.duration_ticks / line.bars[note.bar_index].meter.beat_ticks
    return min(max(sqrt(beats), 0.7), 1.4)


def _moves(notes: Sequence[Note], index: int) -> bool:
    """Whether a note is reached and left by step and is no turning point of leaps."""
    if not 0 < index < len(notes) - 1:
        return False
    before, here, after = (note.pitch for note in notes[index - 1 : index + 2])
    if before is None or here is None or after is None:
        return False
    is_weak = notes[index].duration_ticks <= notes[index - 1].duration_ticks
    return is_weak and 1 <= abs(here - before) <= 2 and 1 <= abs(after - here) <= 2


def _leads(notes: Sequence[Note], index: int) -> bool:
    """Whether a note lies a half-step from the one after it."""
    if index + 1 >= len(notes):
        return False
    here, after = notes[index].pitch, notes[index + 1].pitch
    return here is not None and after is not None and abs(after - here) == 1
