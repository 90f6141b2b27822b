"""How well families that were found are those that were planted, by the measures of ``mir_eval.pattern``.

A family is a list of occurrences, an occurrence the number of a line and the numbers of its notes there. For the
measures the lines stand one after the other on one axis of time (quarter notes), with a gap between them, and an
occurrence is the set of its (onset, MIDI number) pairs.

- *establishment*: was each figure noticed at all, by its best occurrence;
- *occurrence* at a threshold: of the figures that were noticed at least so well, were all occurrences found;
- *three-layer*: both at once, as the mean over occurrences of the mean over notes.

Source: the MIREX task "Discovery of Repeated Themes & Sections", 2013 to 2017, as mir_eval implements it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from corpus.model import TICKS_PER_QUARTER, Transcription

Place = tuple[int, Sequence[int]]
"""An occurrence: the number of its line, and the numbers of its notes."""
Families = Sequence[Sequence[Place]]

_GAP_QUARTERS = 64


@dataclass(frozen=True, slots=True)
class PatternScores:
    """F1 of each measure, 0 to 1, higher is better; all 0 where nothing was found (or nothing was planted)."""

    establishment: float
    occurrence_75: float
    occurrence_50: float
    three_layer: float


def on_one_axis(lines: Sequence[Transcription], families: Families) -> list[list[list[tuple[float, float]]]]:
    """Families as mir_eval takes them: for each occurrence the onsets (quarter notes) and MIDI numbers of its notes.

    Notes without a pitch are left out, as are occurrences and families of which nothing is left.
    """
    lengths = (line.end_ticks / TICKS_PER_QUARTER + _GAP_QUARTERS for line in lines)
    begins = list(accumulate(lengths, initial=0.0))
    patterns = []
    for family in families:
        occurrences = []
        for line, numbers in family:
            notes = [lines[line].notes[number] for number in numbers]
            pairs = [
                (begins[line] + note.onset_ticks / TICKS_PER_QUARTER, float(note.pitch))
                for note in notes
                if note.pitch is not None
            ]
            if pairs:
                occurrences.append(pairs)
        if occurrences:
            patterns.append(occurrences)
    return patterns


def pattern_scores(lines: Sequence[Transcription], truth: Families, found: Families) -> PatternScores:
    """The measures of what was found against what was planted, in the same lines."""
    from mir_eval import pattern

    planted, heard = on_one_axis(lines, truth), on_one_axis(lines, found)
    if not planted or not heard:
        return PatternScores(0.0, 0.0, 0.0, 0.0)
    return PatternScores(
        establishment=float(pattern.establishment_FPR(planted, heard)[0]),
        occurrence_75=float(pattern.occurrence_FPR(planted, heard, thres=0.75)[0]),
        occurrence_50=float(pattern.occurrence_FPR(planted, heard, thres=0.5)[0]),
        three_layer=float(pattern.three_layer_FPR(planted, heard)[0]),
    )


def is_scale_fragment(intervals: Sequence[int]) -> bool:
    """Whether a figure, as semitones between neighbours, is a mere run: only half and whole steps in one direction."""
    return bool(intervals) and (
        all(1 <= size <= 2 for size in intervals) or all(-2 <= size <= -1 for size in intervals)
    )
