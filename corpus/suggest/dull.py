"""Which bars of a line are dull, and why: what a teacher would point at first (common practice, no source).

A bar is dull when its notes say little: one pitch class only, roots only, roots and fifths only, or the very notes of
the bar before. A root on the first beat, or a leap or a repeated note into the next bar, make it duller, but are no
reason by themselves. Bars of fewer than ``FEWEST`` notes are left alone: space is no fault.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from corpus.harmony.roles import NoteRole
from corpus.model import Transcription

FEWEST: Final = 3
DULL: Final = 3
_ONE_NOTE, _ROOTS, _FIFTHS, _AGAIN, _MORE = 5, 4, 3, 3, 1


@dataclass(frozen=True, slots=True)
class DullBar:
    """A bar (played, from 0), its notes, how dull it is, and why, in words."""

    bar_index: int
    first: int
    last: int
    score: int
    reasons: tuple[str, ...]


def dull_bars(line: Transcription, roles: Sequence[NoteRole | None]) -> list[DullBar]:
    """The dull bars of a line, the dullest first; bars without chords, or with a note that is tied in, are left out."""
    by_bar: dict[int, list[int]] = {}
    for index, note in enumerate(line.notes):
        by_bar.setdefault(note.bar_index, []).append(index)
    found = []
    for bar_index, notes in by_bar.items():
        reasons = _reasons(line, roles, notes, by_bar.get(bar_index - 1, []))
        score = sum(weight for weight, _ in reasons)
        if max((weight for weight, _ in reasons), default=0) >= DULL:
            words = tuple(text for _, text in reasons)
            found.append(DullBar(bar_index, notes[0], notes[-1], score, words))
    return sorted(found, key=lambda bar: (-bar.score, bar.bar_index))


def _reasons(
    line: Transcription, roles: Sequence[NoteRole | None], notes: Sequence[int], before: Sequence[int]
) -> list[tuple[int, str]]:
    played = [line.notes[index] for index in notes]
    degrees = [role.degree for index in notes if (role := roles[index]) is not None]
    if len(notes) < FEWEST or len(degrees) < len(notes):
        return []
    reasons: list[tuple[int, str]] = []
    if len({(note.pitch or 0) % 12 for note in played}) == 1:
        reasons.append((_ONE_NOTE, f"nothing but {played[0].spelling.rstrip('-0123456789')}"))
    elif set(degrees) == {"1"}:
        reasons.append((_ROOTS, "nothing but roots"))
    elif set(degrees) <= {"1", "5"}:
        reasons.append((_FIFTHS, "only roots and fifths"))
    if _figure(line, notes) == _figure(line, before):
        reasons.append((_AGAIN, f"the notes of bar {line.bar_of(before[0]).number} again"))
    if reasons and degrees[0] == "1" and line.beat_of(notes[0]) == 1:
        reasons.append((_MORE, "the root on beat 1"))
    following = notes[-1] + 1
    if reasons and following < len(line.notes):
        size = abs((line.notes[following].pitch or 0) - (played[-1].pitch or 0))
        if size == 0 or size > 7:
            reasons.append((_MORE, "no step into the next bar"))
    return reasons


def _figure(line: Transcription, notes: Sequence[int]) -> list[tuple[int, int | None]]:
    """Pitches and where in the bar they begin."""
    return [(line.notes[i].onset_ticks - line.bar_of(i).onset_ticks, line.notes[i].pitch) for i in notes]
