"""What was changed in a figure to make an occurrence of it, exactly: a list that gives the occurrence when applied.

=============== ========================================== =====================================================
kind            ``notes``                                  ``amounts``
=============== ========================================== =====================================================
cut             notes missing at the beginning or the end
left out        a note missing inside
altered         a note on its letter                       semitones up (or down)
replaced        another note instead                       semitones up (or down)
octave          neighbouring notes in another octave       octaves up (or down), one number for all
repeats         a note, or one with its repeats            how often it is played
added           the note before what was added             semitones from note to note
extended        the first or the last note                 semitones outward from note to note (two passages only)
stretched                                                  numerator and denominator of the new pace
rhythm          a note                                     ticks to each following note, repeats and added ones too
shifted                                                    beats later in the bar, as a fraction of two numbers
retrograde, …                                              the figure was turned round before all else
sequence                                                   semitones from each repetition to the next
=============== ========================================== =====================================================

Notes are those of the figure, from 1. A figure without pitches counts letter names where others count semitones.
Without a ``rhythm`` change the notes in the place of one note of the figure (its repeats, what was added after it)
share the time between it and the next one equally.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from corpus.match.figure import Figure

ChangeKind = Literal[
    "cut",
    "left out",
    "altered",
    "replaced",
    "octave",
    "repeats",
    "added",
    "extended",
    "stretched",
    "rhythm",
    "shifted",
    "retrograde",
    "inversion",
    "retrograde inversion",
    "sequence",
]


@dataclass(frozen=True, slots=True)
class Change:
    """One change; see the table above. ``words`` say it to a musician, empty for what need not be said.

    ``how`` tells what an added note or a note left out is (``passing`` …).
    """

    kind: ChangeKind
    notes: tuple[int, ...] = ()
    amounts: tuple[int, ...] = ()
    how: str = ""
    words: str = ""


@dataclass
class Group:
    """What is played in the place of one or more notes of the figure: their numbers, heights and time.

    ``gap`` is the figure's time to the next group in ticks, None for the last; ``gaps`` those to each next note where
    a change tells them.
    """

    notes: tuple[int, ...]
    heights: list[int]
    gap: int | None = None
    gaps: list[int] | None = None


def groups_of(figure: Figure, transposed: int, changes: Sequence[Change]) -> list[Group]:
    """What is played in the place of each note of a figure that is left, repeats and added notes with it."""
    heights = figure.pitches if figure.pitches is not None else figure.positions
    assert heights is not None
    octave = 12 if figure.pitches is not None else 7
    groups = {number: Group((number,), [height + transposed]) for number, height in enumerate(heights, start=1)}
    for change in changes:
        if change.kind in ("altered", "replaced", "octave"):
            amount = change.amounts[0] * (octave if change.kind == "octave" else 1)
            for number in change.notes:
                groups[number].heights[0] += amount
        elif change.kind in ("cut", "left out"):
            for number in change.notes:
                del groups[number]
    for change in changes:
        if change.kind == "repeats":
            first = groups[change.notes[0]]
            groups = {number: group for number, group in groups.items() if number not in change.notes[1:]}
            first.notes, first.heights = change.notes, first.heights[:1] * change.amounts[0]
    for change in changes:
        if change.kind == "added":
            _add(next(group for group in groups.values() if change.notes[0] in group.notes), change.amounts)
        elif change.kind == "rhythm":
            groups[change.notes[0]].gaps = list(change.amounts)
    return _timed(figure, list(groups.values()))


def _add(group: Group, sizes: Sequence[int]) -> None:
    for size in sizes:
        group.heights.append(group.heights[-1] + size)


def _timed(figure: Figure, groups: list[Group]) -> list[Group]:
    if figure.onsets is not None:
        for group, following in pairwise(groups):
            group.gap = figure.onsets[following.notes[0] - 1] - figure.onsets[group.notes[0] - 1]
    return groups


def apply_heights(figure: Figure, transposed: int, changes: Sequence[Change]) -> list[int]:
    """The pitches of an occurrence: the figure's, transposed and changed.

    For a figure without pitches these are staff positions, and ``transposed`` is in letter names.
    """
    heights = [height for group in groups_of(figure, transposed, changes) for height in group.heights]
    for change in changes:
        if change.kind == "extended":
            at_start = change.notes[0] == 1
            for size in change.amounts:
                heights.insert(0 if at_start else len(heights), heights[0 if at_start else -1] + size)
    return heights


def pace_of(changes: Sequence[Change]) -> Fraction:
    """The factor by which changes stretch a figure."""
    return next((Fraction(*change.amounts) for change in changes if change.kind == "stretched"), Fraction(1))


def apply_onsets(figure: Figure, changes: Sequence[Change]) -> list[int]:
    """The onsets of an occurrence in ticks from its first note; for a figure with rhythm, without extensions.

    Raises ValueError when an equal share of time is no whole number of ticks: then a ``rhythm`` change is missing.
    """
    pace = pace_of(changes)
    onsets, tick = [], 0
    for group in groups_of(figure, 0, changes):
        for gap in shares(group.gap, pace, len(group.heights)) if group.gaps is None else group.gaps:
            onsets.append(tick)
            tick += gap
    return onsets


def shares(gap: int | None, pace: Fraction, count: int) -> list[int]:
    """Equal shares of a time in ticks for so many notes; the last note of a figure has no time of its own.

    Raises ValueError when a share is no whole number of ticks.
    """
    if gap is None and count == 1:
        return [0]
    if gap is None:
        raise ValueError("what is played for the last note needs a rhythm change")
    # In whole numbers: sums of fractions take most of the time that it takes to explain an occurrence.
    share, over = divmod(gap * pace.numerator, pace.denominator * count)
    if over:
        raise ValueError(f"{count} notes do not share {gap} ticks at pace {pace}")
    return [share] * count
