"""The slow, obvious way to find a figure: look at every stretch of every line and compare note by note.

Shares nothing with the readings, patterns or indexes that it is used to check.
"""

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from corpus.match.exact import Rhythm
from corpus.match.figure import Figure, Folds
from corpus.model import Note, Transcription

_USUAL_LETTERS = {0: {0}, 1: {1}, 2: {1}, 3: {2}, 4: {2}, 5: {3}, 6: {3, 4}, 7: {4}, 8: {5}, 9: {5}, 10: {6}, 11: {6}}


def letter_position(note: Note) -> int:
    """Letter names above C0, worked out from the spelling by hand."""
    octave = int("".join(c for c in note.spelling if c.isdigit() or c == "-"))
    return 7 * octave + "CDEFGAB".index(note.spelling[0])


def _breaks_between(transcription: Transcription, before: Note, after: Note) -> bool:
    if before.pitch is None or after.pitch is None:
        return True
    bar = transcription.bars[before.bar_index]
    return after.onset_ticks - (before.onset_ticks + before.duration_ticks) > bar.meter.bar_ticks


def _runs(pitches: Sequence[object]) -> list[list[int]]:
    runs: list[list[int]] = []
    for index, pitch in enumerate(pitches):
        if runs and pitches[runs[-1][-1]] == pitch:
            runs[-1].append(index)
        else:
            runs.append([index])
    return runs


def _interval_fits(figure: Figure, folds: Folds, i: int, semitones: int, letters: int) -> bool:
    """Whether the interval found between two neighbours is the one that the figure has there."""
    if figure.contour is not None:
        return figure.contour[i] == ("r" if semitones == 0 else "u" if semitones > 0 else "d")
    known = figure.octave_known[i] and figure.octave_known[i + 1] and not folds.octaves
    if folds.mode or figure.pitches is None:
        if figure.positions is not None:
            wanted = {figure.positions[i + 1] - figure.positions[i]}
        else:
            assert figure.pitches is not None
            size = figure.pitches[i + 1] - figure.pitches[i]
            sign = 1 if size >= 0 else -1
            wanted = {sign * (7 * (abs(size) // 12) + n) for n in _USUAL_LETTERS[abs(size) % 12]}
        return letters in wanted if known else letters % 7 in {n % 7 for n in wanted}
    wanted_size = figure.pitches[i + 1] - figure.pitches[i]
    return semitones == wanted_size if known else (semitones - wanted_size) % 12 == 0


def _heights_fit(figure: Figure, folds: Folds, notes: Sequence[Note]) -> bool:
    """Notes whose octave is given stand as far apart as in the figure, also across notes whose octave is not."""
    if folds.octaves or figure.contour is not None:
        return True
    by_letter = folds.mode or figure.pitches is None
    wanted = figure.positions if by_letter else figure.pitches
    if wanted is None:
        return True
    given = [
        (letter_position(note) if by_letter else note.pitch or 0) - wanted[i]
        for i, note in enumerate(notes)
        if figure.octave_known[i]
    ]
    return len(set(given)) <= 1


def _rhythm_fits(wanted: Sequence[int] | None, found: Sequence[int], rhythm: Rhythm) -> bool:
    if rhythm == "any":
        return True
    assert wanted is not None
    wanted_gaps = [b - a for a, b in pairwise(wanted)]
    found_gaps = [b - a for a, b in pairwise(found)]
    if rhythm == "same":
        return wanted_gaps == found_gaps
    return len({Fraction(f, w) for f, w in zip(found_gaps, wanted_gaps, strict=True)}) == 1


def _segment_fits(notes: Sequence[Note], figure: Figure, folds: Folds, rhythm: Rhythm) -> bool:
    if len(notes) != len(figure):
        return False
    for i, (before, after) in enumerate(pairwise(notes)):
        assert before.pitch is not None
        assert after.pitch is not None
        letters = letter_position(after) - letter_position(before)
        if not _interval_fits(figure, folds, i, after.pitch - before.pitch, letters):
            return False
    return _heights_fit(figure, folds, notes) and _rhythm_fits(figure.onsets, [n.onset_ticks for n in notes], rhythm)


def brute_force(
    transcription: Transcription, asked: Figure, folds: Folds, rhythm: Rhythm = "any"
) -> list[tuple[int, int]]:
    """First and last note of every occurrence, by trying every stretch."""
    figure = asked.without_doubles() if folds.doubles else asked
    notes = transcription.notes
    found: list[tuple[int, int]] = []
    for first in range(len(notes)):
        for last in range(first + 1, len(notes)):
            if _breaks_between(transcription, notes[last - 1], notes[last]):
                break
            stretch = notes[first : last + 1]
            if not folds.doubles:
                if _segment_fits(stretch, figure, folds, rhythm):
                    found.append((first, last))
                continue
            runs = _runs([note.pitch for note in stretch])
            kept = [stretch[run[0]] for run in runs]
            kept[0] = kept[0]._replace(spelling=_run_spelling(transcription, first))
            if _ends_are_right(transcription, first, last, runs, asked) and _segment_fits(kept, figure, folds, rhythm):
                found.append((first, last))
    return found


def _run_spelling(transcription: Transcription, index: int) -> str:
    """A run of one pitch is spelled as its first note, though C# and Db stand in it side by side."""
    notes = transcription.notes
    while (
        index
        and notes[index - 1].pitch == notes[index].pitch
        and not _breaks_between(transcription, notes[index - 1], notes[index])
    ):
        index -= 1
    return notes[index].spelling


def _ends_are_right(
    transcription: Transcription, first: int, last: int, runs: Sequence[Sequence[int]], asked: Figure
) -> bool:
    """The runs at both ends hold as many notes as the longest inside (or the figure's own), if there are so many."""
    notes = transcription.notes
    if len(runs) < 2:
        return False
    inside = max((len(run) for run in runs[1:-1]), default=1)
    starts = [*asked.run_starts(), len(asked)]
    for run, own, step, edge in (
        (runs[0], starts[1] - starts[0], -1, first),
        (runs[-1], starts[-1] - starts[-2], 1, last),
    ):
        available = len(run)
        at = edge + step
        while 0 <= at < len(notes) and notes[at].pitch == notes[edge].pitch:
            pair = (notes[at], notes[at + 1]) if step < 0 else (notes[at - 1], notes[at])
            if _breaks_between(transcription, *pair):
                break
            available += 1
            at += step
        if len(run) != min(available, max(inside, own)):
            return False
    return True
